package recording_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// FuzzOpen reads arbitrary bytes as a recording. Reading always ends, with an error of one line or
// with frames of the right size.
func FuzzOpen(f *testing.F) {
	frames := releves(40, 3)
	dir := f.TempDir()
	whole := filepath.Join(dir, "whole.mcap")
	w, err := recording.CreateDirect(whole, meta(1, 3))
	require.NoError(f, err)
	write(f, w, frames)
	require.NoError(f, w.Close())
	b, err := os.ReadFile(whole)
	require.NoError(f, err)
	f.Add(b)
	f.Add(b[:len(b)/2])
	flipped := bytes.Clone(b)
	flipped[len(b)/2] ^= 4
	f.Add(flipped)

	running := filepath.Join(dir, "running.mcap")
	w, err = recording.Create(running, meta(1, 3))
	require.NoError(f, err)
	write(f, w, frames)
	f.Add(waitForPart(f, running, len(frames)))
	require.NoError(f, w.Discard())
	f.Add([]byte{})
	f.Add(mcap.Magic)

	path := filepath.Join(dir, "fuzz.mcap")
	f.Fuzz(func(t *testing.T, b []byte) {
		require.NoError(t, os.WriteFile(path, b, 0o666))
		r, err := recording.Open(t.Context(), path)
		if err != nil {
			oneLine(t, err)
			return
		}
		defer r.Close()
		got, err := readAll(r)
		var d *recording.Damage
		if errors.As(err, &d) && (d.Offset < 0 || d.Offset > int64(len(b))) {
			t.Fatalf("damage at byte %d of %d", d.Offset, len(b))
		}
		if err != nil {
			oneLine(t, err)
		}
		for i := range got {
			if n := r.Meta().Sides[got[i].Foot].Strip.Cells(); len(got[i].Counts) != n {
				t.Fatalf("a frame of %d cells from a strip of %d", len(got[i].Counts), n)
			}
		}
		r.Missing()
		if err == nil && !r.Whole() && r.Missing() == "" {
			t.Fatal("not whole, but nothing is missing")
		}
	})
}

// FuzzDescription reads recordings whose description is the fuzzed record, repeated many
// times. No description makes Open allocate more than a small multiple of its bound.
func FuzzDescription(f *testing.F) {
	deep := bytes.Repeat([]byte("a."), 20_000)
	f.Add("recording", "version", []byte("1"), uint16(1))
	f.Add("left", "strip", append(deep, "a = 1"...), uint16(1))
	f.Add("x", "y", bytes.Repeat([]byte("z"), 1<<16), uint16(2000))
	f.Add("", "", []byte{}, uint16(60_000))
	path := filepath.Join(f.TempDir(), "fuzz.mcap")
	f.Fuzz(func(t *testing.T, name, key string, value []byte, times uint16) {
		require.NoError(t, os.WriteFile(path, described(t, name, key, string(value), int(times)), 0o666))
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		r, err := recording.Open(t.Context(), path)
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; n > 96<<20 {
			t.Fatalf("%d bytes allocated", n)
		}
		if err != nil {
			oneLine(t, err)
			return
		}
		r.Close()
	})
}

// described returns the beginning of a recording of one foot, with further metadata
// records under distinct names, up to 6 MiB.
func described(t *testing.T, name, key, value string, times int) []byte {
	var b bytes.Buffer
	w, err := mcap.NewWriter(&b, &mcap.WriterOptions{})
	require.NoError(t, err)
	require.NoError(t, w.WriteHeader(&mcap.Header{Profile: "aplomb"}))
	about := map[string]string{"version": "1", "started": "2024-05-01T10:00:00Z"}
	require.NoError(t, w.WriteMetadata(&mcap.Metadata{Name: "recording", Metadata: about}))
	side := map[string]string{"strip": device.TOML(strip(device.Left, 1, 3)), "shoe": device.TOML(meta(1, 3).Sides[device.Left].Shoe)}
	side[key] = value
	require.NoError(t, w.WriteMetadata(&mcap.Metadata{Name: "left", Metadata: side}))
	for i := 0; i < times && b.Len() < 6<<20; i++ {
		m := &mcap.Metadata{Name: name + strconv.Itoa(i), Metadata: map[string]string{key: value}}
		require.NoError(t, w.WriteMetadata(m))
	}
	return b.Bytes()
}

// A description needs megabytes of memory at most, for any file, and its error is one
// line.
func TestADescriptionBeyondItsLimits(t *testing.T) {
	for name, c := range map[string]struct {
		key, value string
		times      int
		want       string
	}{
		"a deep key":   {"strip", strings.Repeat("a.", 20_000) + "a = 1", 0, "strip of the left foot:1: a key of more than 8 parts: no profile has one"},
		"a long shoe":  {"shoe", "# " + strings.Repeat("x", 70_000), 0, "shoe of the left foot:1: more than 64 KiB beside the lists of numbers: no profile is so long"},
		"a long value": {"note", strings.Repeat("x", 5<<20), 0, "its description is longer than 4 MiB: copy the file again"},
		"many records": {"note", strings.Repeat("x", 60_000), 100, "its description is longer than 4 MiB: copy the file again"},
	} {
		t.Run(name, func(t *testing.T) {
			path := tempFile(t)
			require.NoError(t, os.WriteFile(path, described(t, "more", c.key, c.value, c.times), 0o666))
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := recording.Open(t.Context(), path)
			runtime.ReadMemStats(&after)
			assert.EqualError(t, err, path+": "+c.want)
			assert.ErrorIs(t, err, recording.ErrDamaged)
			assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(24<<20))
		})
	}
}

// FuzzFlips reads a recording with flipped bits: every frame read was written, and
// missing ones are reported.
func FuzzFlips(f *testing.F) {
	frames := releves(1200, 2)
	dir := f.TempDir()
	var files [2][]byte
	for i, create := range []func(string, device.Metadata) (*recording.Writer, error){recording.CreateDirect, recording.Create} {
		path := filepath.Join(dir, fmt.Sprint(i, ".mcap"))
		w, err := create(path, meta(1, 2))
		require.NoError(f, err)
		write(f, w, frames)
		if i == 1 {
			files[i] = waitForPart(f, path, len(frames))
			require.NoError(f, w.Discard())
			break
		}
		require.NoError(f, w.Close())
		files[i], err = os.ReadFile(path)
		require.NoError(f, err)
	}
	f.Add(false, uint32(5000), uint32(5001), uint32(90_000))
	f.Add(true, uint32(700), uint32(40_001), uint32(40_001))
	path := filepath.Join(dir, "flipped.mcap")
	f.Fuzz(func(t *testing.T, unfinished bool, one, two, three uint32) {
		b := bytes.Clone(files[0])
		if unfinished {
			b = bytes.Clone(files[1])
		}
		for _, bit := range []uint32{one, two, three} {
			bit %= uint32(8 * len(b))
			b[bit/8] ^= 1 << (bit % 8)
		}
		got, r, err := readBytes(t, path, b)
		if err != nil {
			oneLine(t, err)
			return
		}
		requirePartOf(t, frames, got)
		if len(got) < len(frames) && r.Damaged() == "" && r.Missing() == "" {
			t.Fatal("frames are missing and nothing says so")
		}
	})
}
