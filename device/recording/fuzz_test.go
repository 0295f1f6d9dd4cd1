package recording_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/require"

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
