package recording_test

import (
	"context"
	"errors"
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// identityOf returns the id of the recording at path, and checks that Reader.ID returns
// the same at its end and none before.
func identityOf(t *testing.T, path string) string {
	t.Helper()
	id, err := recording.Identity(t.Context(), path)
	require.NoError(t, err)
	r := open(t, path)
	var f device.Frame
	for {
		assert.Empty(t, r.ID())
		if err := r.Next(&f); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
	}
	assert.Equal(t, id, r.ID())
	return id
}

func recorded(t *testing.T, create func(string, device.Metadata) (*recording.Writer, error), m device.Metadata, frames []device.Frame, events ...device.Event) string {
	t.Helper()
	path := tempFile(t)
	w, err := create(path, m)
	require.NoError(t, err)
	write(t, w, frames, events...)
	require.NoError(t, w.Close())
	return path
}

// The id of this recording was computed by a Python script that follows doc.go
// with hashlib and encodes the messages itself.
func TestIdentityByHand(t *testing.T) {
	frames := []device.Frame{
		{Foot: device.Left, TimeUS: 5000, ArrivalNS: start, Seq: 7, Counts: []uint16{1, 300}},
		{Foot: device.Left, TimeUS: 10000, ArrivalNS: start + 5_000_000, Seq: 8, Counts: []uint16{0, 65535}},
	}
	note := device.Event{TimeNS: start + 1, Foot: device.Left, Kind: device.Note, Text: "relevé"}
	assert.Equal(t, "0wp5atckzg", identityOf(t, recorded(t, recording.Create, meta(1, 2), frames, note)))
}

func TestIdentityComesFromFramesAndEventsAlone(t *testing.T) {
	frames := releves(20_000, 6)
	id := identityOf(t, recorded(t, recording.Create, meta(2, 3), frames, someEvents...))
	assert.Len(t, id, 10)
	assert.Equal(t, id, identityOf(t, recorded(t, recording.CreateDirect, meta(2, 3), frames, someEvents...)), "compressed at once")

	m := meta(2, 3)
	m.Dancer, m.Visit, m.Sides[0].Mounting, m.Sides[1].Shoe.Code = "D-08", "2023-11-15", "another", "B"
	assert.Equal(t, id, identityOf(t, recorded(t, recording.Create, m, frames, someEvents...)), "other metadata")

	for what, change := range map[string]func([]device.Frame) []device.Frame{
		"a count":              func(f []device.Frame) []device.Frame { f[19_999].Counts = []uint16{1, 2, 3, 4, 5, 6}; return f },
		"a time":               func(f []device.Frame) []device.Frame { f[3].TimeUS++; return f },
		"a frame fewer":        func(f []device.Frame) []device.Frame { return f[:19_999] },
		"a frame of the other": func(f []device.Frame) []device.Frame { f[0].Foot = device.Right; return f },
	} {
		other := change(append([]device.Frame(nil), frames...))
		assert.NotEqual(t, id, identityOf(t, recorded(t, recording.Create, meta(2, 3), other, someEvents...)), what)
	}
	assert.NotEqual(t, id, identityOf(t, recorded(t, recording.Create, meta(2, 3), frames, someEvents[0])), "an event fewer")
}

// The frames of two ports are in a .part in the order of arrival, and in the finished
// file in order of log time.
func TestIdentityOfAPart(t *testing.T) {
	frames := releves(2_000, 6)
	for i := 0; i+3 < len(frames); i += 4 {
		frames[i+1], frames[i+2] = frames[i+2], frames[i+1]
	}
	path := tempFile(t)
	w, err := recording.Create(path, meta(2, 3))
	require.NoError(t, err)
	write(t, w, frames)
	require.NoError(t, w.WriteEvent(device.Event{TimeNS: start, Kind: device.Note, Foot: device.NoFoot, Text: "late"}))
	part := waitForPart(t, path, len(frames))
	require.NoError(t, w.Close())
	require.NoError(t, os.WriteFile(path+".copy.part", part, 0o666))
	assert.Equal(t, identityOf(t, path), identityOf(t, path+".copy.part"))
}

func TestADamagedRecordingHasNoIdentity(t *testing.T) {
	path := recorded(t, recording.Create, meta(2, 3), releves(20_000, 6))
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	file[len(file)/2] ^= 1
	require.NoError(t, os.WriteFile(path, file, 0o666))
	id, err := recording.Identity(t.Context(), path)
	assert.ErrorIs(t, err, recording.ErrDamaged)
	assert.ErrorContains(t, err, path)
	assert.Empty(t, id)
	r := open(t, path)
	_, err = readAll(r)
	require.NoError(t, err, "what has a good checksum is read")
	assert.Empty(t, r.ID())
}

// Reading ends with the context: before a file is opened, and within a block.
func TestReadingEndsWithTheContext(t *testing.T) {
	path := recorded(t, recording.Create, meta(5, 8), releves(60_000, 40))
	ctx, stop := context.WithCancel(t.Context())
	r, err := recording.Open(ctx, path)
	require.NoError(t, err)
	defer r.Close()
	var f device.Frame
	require.NoError(t, r.Next(&f))
	stop()
	frames := 1
	for err == nil {
		if err = r.Next(&f); err == nil {
			frames++
		}
	}
	assert.ErrorIs(t, err, context.Canceled)
	assert.Less(t, frames, 60_000, "what is in memory may be read to its end, and no more")
	assert.Empty(t, r.ID())

	_, err = recording.Open(ctx, path)
	assert.ErrorIs(t, err, context.Canceled)
	_, err = recording.Inspect(ctx, path)
	assert.ErrorIs(t, err, context.Canceled)
	_, err = recording.Identity(ctx, path)
	assert.ErrorIs(t, err, context.Canceled)
}

func BenchmarkIdentity(b *testing.B) {
	path := tempFile(b)
	w, err := recording.CreateDirect(path, meta(5, 8))
	require.NoError(b, err)
	writeMillion(b, w)
	for b.Loop() {
		_, err := recording.Identity(b.Context(), path)
		require.NoError(b, err)
	}
}
