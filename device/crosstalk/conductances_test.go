package crosstalk_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/crosstalk"
)

// For readings of conductances, some of which are 0, Undo finds conductances with the
// same readings.
func TestUndo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, cols := rapid.IntRange(2, 6).Draw(t, "rows"), rapid.IntRange(2, 8).Draw(t, "cols")
		tie := rapid.SampledFrom([]float64{1e-4, 1e-2, 1, crosstalk.Floating}).Draw(t, "tie")
		cell := rapid.OneOf(rapid.Float64Range(1, 1000), rapid.Float64Range(1, 1000), rapid.Just(0.0))
		g := rapid.SliceOfN(cell, rows*cols, rows*cols).Draw(t, "g")
		g[0] += 1
		seen, got := make([]float64, len(g)), make([]float64, len(g))
		crosstalk.New(rows, cols, tie).Readings(g, seen)
		n := crosstalk.New(rows, cols, tie)
		require.True(t, n.Conductances(seen, got))
		back, most := make([]float64, len(g)), slices.Max(seen)
		n.Readings(got, back)
		for k := range got {
			require.InDelta(t, seen[k], back[k], 2e-5*most)
		}
	})
}

// Undo inverts readings of an independent node analysis. Every cell conducts, so that the
// solution is unique.
func TestUndoAgainstNodeAnalysis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const rows, cols = 5, 8
		tie := rapid.SampledFrom([]float64{1e-3, 1e-2, 1e6}).Draw(t, "tie")
		g := rapid.SliceOfN(rapid.Float64Range(20, 1000), rows*cols, rows*cols).Draw(t, "g")
		seen, got := make([]float64, len(g)), make([]float64, len(g))
		for k := range g {
			seen[k] = nodeAnalysis(rows, cols, tie, g, k/cols, k%cols)
		}
		require.True(t, crosstalk.New(rows, cols, tie).Conductances(seen, got))
		for k := range g {
			require.InDelta(t, g[k], got[k], 1)
		}
	})
}

func BenchmarkUndo(b *testing.B) {
	g, seen := make([]float64, 40), make([]float64, 40)
	for k := range g {
		g[k] = float64(k)
	}
	n := crosstalk.New(5, 8, crosstalk.Floating)
	n.Readings(g, seen)
	for b.Loop() {
		n.Conductances(seen, g)
	}
}
