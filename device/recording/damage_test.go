package recording_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"os"
	"strings"
	"testing"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// part returns the .part that a crash leaves of a recording.
func part(t *testing.T, frames []device.Frame, cells int) []byte {
	t.Helper()
	path := tempFile(t)
	w, err := recording.Create(path, meta(1, cells))
	require.NoError(t, err)
	write(t, w, frames)
	b := waitForPart(t, path, len(frames))
	require.NoError(t, w.Discard())
	return b
}

// closed returns a finished recording.
func closed(t *testing.T, frames []device.Frame, cells int) []byte {
	t.Helper()
	path := tempFile(t)
	w, err := recording.CreateDirect(path, meta(1, cells))
	require.NoError(t, err)
	write(t, w, frames, device.Event{TimeNS: start, Kind: device.Note, Foot: device.NoFoot, Text: "n"})
	require.NoError(t, w.Close())
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return b
}

// records follows the top level of a file by the MCAP specification, an opcode and a length
// before each record, and calls f with the offset after each record.
func records(b []byte, f func(op mcap.OpCode, end int)) {
	for at := len(mcap.Magic); at+9 <= len(b); {
		end := at + 9 + int(binary.LittleEndian.Uint64(b[at+1:]))
		f(mcap.OpCode(b[at]), end)
		at = end
	}
}

// readBytes reads b as a file.
func readBytes(t *testing.T, path string, b []byte) (frames []device.Frame, r *recording.Reader, err error) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, b, 0o666))
	r, err = recording.Open(t.Context(), path)
	if err != nil {
		return nil, nil, err
	}
	defer r.Close()
	frames, err = readAll(r)
	return frames, r, err
}

// Of a .part that is cut off at any byte of its last second, around the end of its description,
// or at some bytes before, every frame before the cut is read.
func TestPartCutAtEveryByte(t *testing.T) {
	var frames []device.Frame // of two seconds
	for i, f := range releves(800, 3) {
		if i/2%20 == 0 {
			frames = append(frames, f)
		}
	}
	whole, path := part(t, frames, 3), tempFile(t)
	ends := []int{} // of each frame
	described := 0
	records(whole, func(op mcap.OpCode, end int) {
		switch op {
		case mcap.OpMessage:
			ends = append(ends, end)
		case mcap.OpMetadata:
			described = end
		}
	})
	require.Len(t, ends, len(frames))
	for size := range len(whole) + 1 {
		if size < ends[len(ends)/2] && (size < described-20 || size > described+20) && size%41 != 0 {
			continue
		}
		got, r, err := readBytes(t, path, whole[:size])
		if err != nil {
			assert.Less(t, size, described, "%v", err)
			oneLine(t, err)
			continue
		}
		want := 0
		for want < len(ends) && ends[want] <= size {
			want++
		}
		require.Equal(t, frames[:want], append([]device.Frame{}, got...), "cut at %d", size)
		assert.False(t, r.Whole())
		if want > 0 && size > ends[want-1] {
			assert.Contains(t, r.Missing(), "left out", "cut at %d", size)
		}
	}
}

func TestPartThatEndsInWhatTheDiskHad(t *testing.T) {
	frames := releves(12, 6)
	whole := part(t, frames, 6)
	// The length had reached the disk, but not the content.
	for name, tail := range map[string][]byte{
		"zeros":            make([]byte, 4096),
		"an empty message": append([]byte{byte(mcap.OpMessage), 30, 0, 0, 0, 0, 0, 0, 0, 1, 0}, make([]byte, 500)...),
		"a short message":  {byte(mcap.OpMessage), 3, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0},
		"noise":            {0xee, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1, 2, 3},
	} {
		got, r, err := readBytes(t, tempFile(t), append(bytes.Clone(whole), tail...))
		require.NoError(t, err, name)
		assert.Equal(t, frames, got, name)
		assert.Contains(t, r.Missing(), "left out", name)
	}
}

func TestClosedFileCut(t *testing.T) {
	frames := releves(60, 6)
	whole, path := closed(t, frames, 6), tempFile(t)
	described, chunk := 0, 0
	records(whole, func(op mcap.OpCode, end int) {
		switch op {
		case mcap.OpMetadata:
			described = end
		case mcap.OpChunk:
			chunk = end
		}
	})
	for size := 0; size < len(whole); size += 11 {
		got, r, err := readBytes(t, path, whole[:size])
		if err != nil {
			assert.Less(t, size, described, "%v", err)
			oneLine(t, err)
			continue
		}
		assert.False(t, r.Whole(), "cut at %d", size)
		assert.NotEmpty(t, r.Missing())
		if size >= chunk {
			require.Equal(t, frames, got, "cut at %d", size)
		} else {
			require.Empty(t, got)
		}
	}
}

// A flipped bit anywhere is refused, reported, or has no effect. Nothing but what was written is
// ever read as complete.
func TestFlippedBitsAreNoticed(t *testing.T) {
	frames := releves(40, 6)
	whole, path := closed(t, frames, 6), tempFile(t)
	want := meta(1, 6)
	refused, reported, harmless := 0, 0, 0
	for i := range whole {
		for bit := range 8 {
			if (8*i+bit)%29 != 0 { // a bit of every fourth byte, to save time
				continue
			}
			b := bytes.Clone(whole)
			b[i] ^= 1 << bit
			got, r, err := readBytes(t, path, b)
			var d *recording.Damage
			switch {
			case err != nil && r == nil:
				refused++
				oneLine(t, err)
			case errors.As(err, &d):
				reported++
				oneLine(t, err)
				require.Equal(t, frames[:len(got)], append([]device.Frame{}, got...))
			case r.Missing() != "":
				reported++
			default:
				harmless++
				require.Equal(t, frames, got, "bit %d of byte %d", bit, i)
				require.Equal(t, want, r.Meta(), "bit %d of byte %d", bit, i)
			}
		}
	}
	t.Logf("%d refused, %d reported, %d in the summary and of no consequence", refused, reported, harmless)
	assert.Positive(t, refused)
	assert.Positive(t, reported)
}

func TestFramesBeforeTheDamage(t *testing.T) {
	path, frames := tempFile(t), releves(30_000, 40)
	w, err := recording.CreateDirect(path, meta(5, 8))
	require.NoError(t, err)
	write(t, w, frames)
	require.NoError(t, w.Close())
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	var ends []int
	records(b, func(op mcap.OpCode, end int) {
		if op == mcap.OpChunk {
			ends = append(ends, end)
		}
	})
	require.GreaterOrEqual(t, len(ends), 3)
	b[ends[1]-100] ^= 1
	got, _, err := readBytes(t, path, b)
	var d *recording.Damage
	require.ErrorAs(t, err, &d)
	assert.Greater(t, d.Offset, int64(ends[0]))
	assert.Less(t, d.Offset, int64(ends[1]))
	require.NotEmpty(t, got)
	same(t, frames[:len(got)], got)
}

func oneLine(t *testing.T, err error) {
	t.Helper()
	assert.NotContains(t, strings.TrimSpace(err.Error()), "\n")
	assert.Less(t, len(err.Error()), 400)
}
