package recording_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

func ptr[T any](v T) *T { return &v }

// correct writes a correction beside the recording at path.
func correct(t *testing.T, path string, e correction.Entry) *recording.Corrected {
	t.Helper()
	e.At = time.Unix(0, start).UTC()
	c, err := recording.PrepareCorrection(t.Context(), path, "", e)
	require.NoError(t, err)
	require.NoError(t, c.Write())
	return c
}

// A correction is read with the recording under any file name, and changes neither the
// recording's bytes nor its id. Another recording with the same start does not get it.
func TestCorrection(t *testing.T) {
	frames := releves(40, 6)
	path := recorded(t, recording.Create, meta(2, 3), frames)
	other := filepath.Join(filepath.Dir(path), "other.mcap")
	w, err := recording.Create(other, meta(2, 3))
	require.NoError(t, err)
	write(t, w, frames[:20])
	require.NoError(t, w.Close())
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	id := identityOf(t, path)

	c := correct(t, path, correction.Entry{Dancer: ptr("D-08"), Left: &correction.Side{Mark: ptr(2)}})
	assert.Equal(t, filepath.Join(filepath.Dir(path), id+".correction.json"), c.Path)
	if info, err := os.Stat(c.Path); assert.NoError(t, err) && runtime.GOOS != "windows" {
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	}
	r := open(t, path)
	want := meta(2, 3)
	assert.Equal(t, want, r.Recorded())
	want.Dancer, want.Sides[device.Left].Mark = "D-08", 2
	assert.Equal(t, want, r.Meta())
	assert.Equal(t, want, c.Meta)
	assert.Equal(t, c.SHA256, r.Correction().SHA256)
	assert.Contains(t, r.Correction().Summary(r.Recorded()), ": dancer D-07 → D-08; left mark 1 → 2")
	assert.Equal(t, id, identityOf(t, path))
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	assert.Nil(t, open(t, other).Correction())

	s, err := recording.Inspect(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, "D-08", s.Meta.Dancer)
	assert.Equal(t, "D-07", s.Recorded.Dancer)

	link := filepath.Join(t.TempDir(), "link.mcap")
	if err := os.Symlink(path, link); err == nil {
		assert.Equal(t, "D-08", open(t, link).Meta().Dancer)
	}
	moved := filepath.Join(filepath.Dir(path), "moved.mcap")
	require.NoError(t, os.Rename(path, moved))
	assert.Equal(t, "D-08", open(t, moved).Meta().Dancer)
	correct(t, moved, correction.Entry{Undo: true})
	assert.Equal(t, meta(2, 3), open(t, moved).Meta())
	assert.Len(t, open(t, moved).Correction().Entries, 2)
	assert.Empty(t, open(t, moved).Correction().Summary(meta(2, 3)))
	left, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*copying*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// A recording that is damaged after its correction has no id. It keeps the correction
// that names its start.
func TestCorrectionOfADamagedRecording(t *testing.T) {
	path := recorded(t, recording.CreateDirect, meta(2, 3), releves(4000, 6))
	correct(t, path, correction.Entry{Dancer: ptr("D-08")})
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	b[len(b)/2] ^= 1
	require.NoError(t, os.WriteFile(path, b, 0o600))
	assert.Equal(t, "D-08", open(t, path).Meta().Dancer)
	correct(t, path, correction.Entry{Dancer: ptr("D-09")})
	assert.Equal(t, "D-09", open(t, path).Meta().Dancer)
}

// Frames and events of exchanged lines are returned as those of the other foot; the id is
// that of the file's content.
func TestSwappedFeet(t *testing.T) {
	frames := releves(40, 6)
	press := device.Event{TimeNS: start + 1, Foot: device.Left, Kind: device.Press, LengthS: 1}
	path := recorded(t, recording.Create, meta(2, 3), frames, press)
	id := identityOf(t, path)
	correct(t, path, correction.Entry{FeetSwapped: ptr(true)})
	r := open(t, path)
	assert.Equal(t, 20, r.Count(device.Left))
	var got []device.Frame
	for {
		var f device.Frame
		if err := r.Next(&f); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
		f.Foot = f.Foot.Other()
		got = append(got, f)
	}
	assert.Equal(t, frames, got)
	require.Len(t, r.Events(), 1)
	assert.Equal(t, device.Right, r.Events()[0].Foot)
	assert.Equal(t, id, r.ID())
}

// A recording with an invalid correction file beside it is not read; a correction of
// another recording is ignored.
func TestUnusableCorrection(t *testing.T) {
	path := recorded(t, recording.Create, meta(2, 3), releves(40, 6))
	dir, id := filepath.Dir(path), identityOf(t, path)
	own, stranger := filepath.Join(dir, correction.Name(id)), filepath.Join(dir, correction.Name("0000000000"))
	refused := func(says string) {
		t.Helper()
		_, err := recording.Open(t.Context(), path)
		require.ErrorIs(t, err, recording.ErrCorrection)
		oneLine(t, err)
		assert.ErrorContains(t, err, says)
	}
	put := func(name, text string) {
		t.Helper()
		require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	}
	put(stranger, "{")
	open(t, path)
	put(own, "{")
	refused(own + ": not a correction")
	require.NoError(t, os.Truncate(own, 1<<40)) // sparse: only as much as is allowed is read
	refused("at most 64 KiB")
	require.NoError(t, os.Remove(own))
	require.NoError(t, os.Mkdir(own, 0o700))
	refused("not a file")
	require.NoError(t, os.Remove(own))

	h := correction.New(id, meta(1, 1).Started).Add(correction.Entry{Left: &correction.Side{Shoe: ptr("shoe = ")}})
	data, err := h.Encode()
	require.NoError(t, err)
	put(own, string(data))
	refused("correction 1: shoe of the left foot")
	require.NoError(t, os.Rename(own, stranger))
	refused("under another name: name it " + id + ".correction.json or move it away")

	h.ID = "0000000000" // of no recording
	if data, err = h.Encode(); err != nil {
		t.Fatal(err)
	}
	put(stranger, string(data))
	refused("has the start of recording " + id + " and the id of none in its folder (0000000000): name it " + id + ".correction.json and write that id in it, or move it away")
	require.NoError(t, os.Rename(stranger, own))
	refused("it names recording 0000000000 in its id, and this one is " + id + ": write that id in it")
}

// Correct overwrites no correction that another process has made meanwhile, and refuses a
// running recording.
func TestCorrectionMeanwhile(t *testing.T) {
	path := recorded(t, recording.Create, meta(2, 3), releves(40, 6))
	mine, err := recording.PrepareCorrection(t.Context(), path, "", correction.Entry{Floor: ptr("stone")})
	require.NoError(t, err)
	correct(t, path, correction.Entry{Floor: ptr("vinyl")})
	err = mine.Write()
	require.ErrorContains(t, err, "was changed meanwhile and stays as it is")
	oneLine(t, err)
	assert.Equal(t, "vinyl", open(t, path).Meta().Floor)

	running := tempFile(t)
	w, err := recording.Create(running, meta(2, 3))
	require.NoError(t, err)
	defer w.Discard()
	_, err = recording.PrepareCorrection(t.Context(), running+".part", "", correction.Entry{Floor: ptr("stone")})
	if runtime.GOOS != "windows" {
		require.ErrorIs(t, err, recording.ErrInUse)
	}
}
