//go:build unix

package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// On a terminal the user is led through the steps: after the answer no the profile stays
// unchanged, after yes it is written, and then a weight is put on.
func TestStripAtATerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	profile := filepath.Join(dir, "left.toml")
	strip, err := device.ReadStrip(t.Context(), profile)
	require.NoError(t, err)
	bench, err := sim.NewBench(strip, sim.Faults{Zero: 40, Noise: 0.7}, 1, time.Now(), 100)
	require.NoError(t, err)
	line, err := sim.OpenLine(filepath.Join(dir, "tty"))
	require.NoError(t, err)
	t.Cleanup(func() { line.Close() })
	var newtons atomic.Int64
	began := time.Now()
	go sim.Serve(t.Context(), bench, [2]*sim.Line{line}, func(ctx context.Context, at time.Time) error {
		bench.Put(float64(newtons.Load()), platform.Point{}, [2]float64{20, 15})
		time.Sleep(time.Until(began.Add(at.Sub(began) / 8))) // its seconds are short
		return ctx.Err()
	})

	before, err := os.ReadFile(profile)
	require.NoError(t, err)
	zero := func(answer, says string) {
		x := onTerminal(t, dir, 100, 40, nil, "strip", "zero", "--strip", "left.toml", "--port", "tty")
		x.shows("Take everything off the strip")
		x.shows("settled: press Enter")
		x.types("\r")
		x.shows("Write this into left.toml? [y/N]")
		x.types(answer + "\r")
		require.Equal(t, exitDone, x.ends(), x.text())
		assert.Contains(t, x.text(), says)
	}
	zero("n", "left.toml stays as it was: as you say")
	after, err := os.ReadFile(profile)
	require.NoError(t, err)
	require.Equal(t, before, after)
	zero("y", "left.toml: zero and noise written")
	strip, err = device.ReadStrip(t.Context(), profile)
	require.NoError(t, err)
	require.Len(t, strip.Calibration.ZeroCounts, 40)
	for _, z := range strip.Calibration.ZeroCounts {
		assert.InDelta(t, 40, z, 0.5)
	}

	x := onTerminal(t, dir, 100, 40, nil, "strip", "verify", "--strip", "left.toml", "--port", "tty", "300N@0,0")
	x.shows("Take everything off the strip")
	x.shows("settled: press Enter")
	x.types("\r")
	x.shows("Press 1 of 1: 300.0 N in all")
	newtons.Store(300)
	x.types("\r")
	require.Equal(t, exitDone, x.ends(), x.text())
	assert.Contains(t, x.text(), "strip L-01 passes: 1 of 1 press")
}

// A strip in the logbook gets the same questions as one in a file.
func TestStripInTheLogbookAtATerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	var unloaded strings.Builder
	unloaded.WriteString("t_us")
	for k := range 40 {
		fmt.Fprint(&unloaded, ",c", k)
	}
	unloaded.WriteByte('\n')
	for n := range 300 {
		fmt.Fprint(&unloaded, n*10_000)
		for k := range 40 {
			fmt.Fprint(&unloaded, ",", 40+(n*7+k*3)%5%2)
		}
		unloaded.WriteByte('\n')
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "unloaded.csv"), []byte(unloaded.String()), 0o666))

	env := []string{"APLOMB_LOGBOOK=" + filepath.Join(dir, "book")}
	x := onTerminal(t, dir, 100, 40, env, "strip", "add", "left.toml")
	require.Equal(t, exitDone, x.ends(), x.text())
	zero := func(answer, says string) []float64 {
		x := onTerminal(t, dir, 100, 40, env, "strip", "zero", "--strip", "L-01", "unloaded.csv")
		x.shows("Write this into strip L-01 in the logbook? [y/N]")
		x.types(answer + "\r")
		require.Equal(t, exitDone, x.ends(), x.text())
		assert.Contains(t, x.text(), says)
		l, err := logbook.Open(filepath.Join(dir, "book"))
		require.NoError(t, err)
		defer l.Close()
		s, err := l.Strip("L-01")
		require.NoError(t, err)
		return s.Calibration.ZeroCounts
	}
	assert.Empty(t, zero("", "strip L-01 in the logbook stays as it was: as you say"))
	written := zero("y", "strip L-01 in the logbook: zero and noise written")
	require.Len(t, written, 40)
	for _, z := range written {
		assert.InDelta(t, 40.4, z, 0.2)
	}
}

// A user enters a strip measured with a ruler.
func TestNewStripAtATerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	env := []string{"APLOMB_LOGBOOK=" + filepath.Join(dir, "book")}
	x := onTerminal(t, dir, 120, 60, env, "strip", "new", "L-01", "--bits", "12")
	for _, c := range [][2]string{
		{"foot (left, right):", "l"}, {"rows of cells", "8"}, {"columns of cells", "5"}, {"Swap them? [Y/n]", ""},
		{"from one column to the next", "0.5"}, {"Keep it? [y/N]", "n"}, {"from one column to the next", "5"}, {"from one row to the next", "5"},
		{"the part of a cell that senses", ""}, {"sent first", ""}, {"the order of cells", ""}, {"its tail leaves", "little"}, {"kPa of one count", ""},
		{"Is this right? [Y/n]", "y"},
	} {
		x.shows(c[0])
		x.types(c[1] + "\r")
	}
	require.Equal(t, exitDone, x.ends(), x.text())
	assert.NotContains(t, x.text(), "bits of the converter")
	assert.Contains(t, x.text(), "strip L-01 added")
	assert.Contains(t, x.text(), "is a guess")
	l, err := logbook.Open(filepath.Join(dir, "book"))
	require.NoError(t, err)
	defer l.Close()
	s, err := l.Strip("L-01")
	require.NoError(t, err)
	assert.Equal(t, [2]int{5, 8}, [2]int{s.Rows, s.Cols})
	assert.Equal(t, [2]float64{5, 5}, s.PitchMM)
	assert.Equal(t, "little toe", s.Mount.TailSide)

	x = onTerminal(t, dir, 100, 30, env, "strip", "new", "l-01")
	require.Equal(t, exitNo, x.ends())
	assert.Contains(t, x.text(), "already in the logbook")
}
