//go:build unix

package demo_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/demo"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// onlySo opens only the given number of lines.
func onlySo(many int) demo.OpenLine {
	return func(link string) (*sim.Line, error) {
		if many--; many >= 0 {
			return sim.OpenLine(link)
		}
		return nil, errors.New("no pseudo-terminal")
	}
}

// Each recording marks a pad press of each foot before its relevés, and the strips extend
// far enough beyond the platforms.
func TestPressesAndStrips(t *testing.T) {
	t.Parallel()
	paths, err := demo.Record(t.Context(), t.Output(), t.TempDir(), 1, 1, onlySo(0))
	require.NoError(t, err)
	for _, path := range paths {
		r, err := recording.Open(t.Context(), path)
		require.NoError(t, err)
		m := r.Meta()
		var f device.Frame
		first := int64(0)
		for err = r.Next(&f); err == nil; err = r.Next(&f) {
			if first == 0 {
				first = f.ArrivalNS
			}
		}
		require.ErrorIs(t, err, io.EOF)
		events := r.Events()
		require.NoError(t, r.Close())
		require.Len(t, events, 2)
		for i, e := range events {
			assert.Equal(t, device.Press, e.Kind)
			assert.Equal(t, device.Foot(i), e.Foot)
			assert.InDelta(t, 6, e.LengthS, 1e-9)
			assert.InDelta(t, 8+8*float64(i), float64(e.TimeNS-first)/1e9, 0.01)
		}
		for _, side := range m.Sides {
			size := side.Shoe.Size()
			assert.GreaterOrEqual(t, (float64(side.Strip.Cols)*side.Strip.PitchMM[0]-size[0])/2, 2.5*side.Strip.Mount.SeatSDMM)
			assert.GreaterOrEqual(t, (float64(side.Strip.Rows)*side.Strip.PitchMM[1]-size[1])/2, 2.5*side.Strip.Mount.SeatSDMM)
		}
	}
}

// The bytes of the recordings are the same through pseudo-terminals and without, and that
// there are none is said once. In one of these fittings the first recording is made through
// pseudo-terminals.
func TestRecordWithoutLines(t *testing.T) {
	t.Parallel()
	lines := map[string]demo.OpenLine{"no line": onlySo(0), "lines for one recording": onlySo(2)}
	dirs, said := map[string]string{}, map[string]*bytes.Buffer{}
	var done sync.WaitGroup
	for name, line := range lines {
		dir, w := t.TempDir(), &bytes.Buffer{}
		dirs[name], said[name] = dir, w
		done.Go(func() {
			paths, err := demo.Record(t.Context(), w, dir, 2, 1, line) // of one rise, a1 of two
			assert.NoError(t, err)
			assert.Len(t, paths, 4)
		})
	}
	done.Wait()
	for name, dir := range dirs {
		assert.Equal(t, 1, strings.Count(said[name].String(), "no pseudo-terminal can be opened here"), name)
		for _, file := range []string{"a1.mcap", "b1.mcap", "b2.mcap", "a2.mcap", "A.toml", "B.toml", "left.toml", "right.toml"} {
			one, err := os.ReadFile(filepath.Join(dirs["no line"], file))
			require.NoError(t, err)
			other, err := os.ReadFile(filepath.Join(dir, file))
			require.NoError(t, err)
			assert.NotEmpty(t, one)
			assert.True(t, bytes.Equal(one, other), "%s: %s differs", name, file)
		}
	}
}
