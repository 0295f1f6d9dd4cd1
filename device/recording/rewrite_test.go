package recording_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// A rewritten recording has the frames of the old one at other times, the selected
// events, another description and no number; the bytes are the same every time.
func TestRewrite(t *testing.T) {
	dir := t.TempDir()
	path, numbered := filepath.Join(dir, "a.mcap"), filepath.Join(dir, "b.mcap")
	frames := releves(400, 40)
	w, err := recording.CreateDirect(path, meta(5, 8))
	require.NoError(t, err)
	for i := range frames {
		if i == 300 {
			require.NoError(t, w.WriteEvent(device.Event{TimeNS: frames[250].ArrivalNS, Foot: device.NoFoot, Kind: device.Note, Text: "SECRET"}))
			require.NoError(t, w.WriteEvent(device.Event{TimeNS: frames[280].ArrivalNS, Foot: device.Left, Kind: device.Press, LengthS: 0.25}))
		}
		require.NoError(t, w.Write(&frames[i]))
	}
	require.NoError(t, w.Close())
	var copied bytes.Buffer
	require.NoError(t, recording.CopyNumbered(t.Context(), &copied, path, 7))
	require.NoError(t, os.WriteFile(numbered, copied.Bytes(), 0o600))

	const byNS = 86_400_000_000_000
	as := recording.Rewriting{Meta: meta(5, 8), Frame: func(f *device.Frame) { f.ArrivalNS -= byNS }, Event: func(e *device.Event) bool {
		e.TimeNS -= byNS
		return e.Kind != device.Note
	}}
	as.Meta.Dancer = "D-08"
	var one, other bytes.Buffer
	require.NoError(t, recording.Rewrite(t.Context(), &one, path, as))
	require.NoError(t, recording.Rewrite(t.Context(), &other, numbered, as))
	assert.True(t, bytes.Equal(one.Bytes(), other.Bytes()))
	assert.NotContains(t, one.String(), "D-07")

	out := filepath.Join(dir, "out.mcap")
	require.NoError(t, os.WriteFile(out, one.Bytes(), 0o600))
	n, err := recording.Number(t.Context(), out)
	require.NoError(t, err)
	assert.Zero(t, n)
	r, err := recording.Open(t.Context(), out)
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, as.Meta, r.Meta())
	var f device.Frame
	for i := range frames {
		require.NoError(t, r.Next(&f))
		want := frames[i]
		want.ArrivalNS -= byNS
		require.Equal(t, want, f)
	}
	require.ErrorIs(t, r.Next(&f), io.EOF)
	assert.Equal(t, []device.Event{{TimeNS: frames[280].ArrivalNS - byNS, Foot: device.Left, Kind: device.Press, LengthS: 0.25}}, r.Events())

	as.Event = func(e *device.Event) bool { e.TimeNS = -1; return true }
	assert.ErrorContains(t, recording.Rewrite(t.Context(), io.Discard, path, as), "impossible times")
}

// Rewrite refuses a damaged recording, because the new file would no longer show the gap.
func TestRewriteRefuses(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.mcap")
	w, err := recording.CreateDirect(path, meta(5, 8))
	require.NoError(t, err)
	for _, f := range releves(4000, 40) {
		require.NoError(t, w.Write(&f))
	}
	require.NoError(t, w.Close())
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	as := recording.Rewriting{Meta: meta(5, 8), Frame: func(*device.Frame) {}, Event: func(*device.Event) bool { return true }}
	require.NoError(t, recording.Rewrite(t.Context(), io.Discard, path, as))

	require.NoError(t, os.WriteFile(path, whole[:len(whole)*2/3], 0o600))
	assert.ErrorIs(t, recording.Rewrite(t.Context(), io.Discard, path, as), recording.ErrUnfinished)
	damaged := bytes.Clone(whole)
	for i := range 10 { // of ten chunks one at least
		damaged[len(whole)*(2*i+1)/20] ^= 0x55
	}
	require.NoError(t, os.WriteFile(path, damaged, 0o600))
	err = recording.Rewrite(t.Context(), io.Discard, path, as)
	assert.True(t, errors.Is(err, recording.ErrDamaged), "%v", err)
}
