package network_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/network"
)

// Conductances, some of them nothing, are found that read the same.
func TestUndo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, cols := rapid.IntRange(2, 6).Draw(t, "rows"), rapid.IntRange(2, 8).Draw(t, "cols")
		tie := rapid.SampledFrom([]float64{1e-4, 1e-2, 1, network.Floating}).Draw(t, "tie")
		cell := rapid.OneOf(rapid.Float64Range(1, 1000), rapid.Float64Range(1, 1000), rapid.Just(0.0))
		g := rapid.SliceOfN(cell, rows*cols, rows*cols).Draw(t, "g")
		g[0] += 1
		seen, got := make([]float64, len(g)), make([]float64, len(g))
		network.New(rows, cols, tie).Read(g, seen)
		n := network.New(rows, cols, tie)
		require.True(t, n.Undo(seen, got))
		back, most := make([]float64, len(g)), slices.Max(seen)
		n.Read(got, back)
		for k := range got {
			require.InDelta(t, seen[k], back[k], 2e-5*most)
		}
	})
}

// Against an independent solution of the nodes; every cell conducts, so that
// there is one answer.
func TestUndoAgainstNodeAnalysis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const rows, cols = 5, 8
		tie := rapid.SampledFrom([]float64{1e-3, 1e-2, 1e6}).Draw(t, "tie")
		g := rapid.SliceOfN(rapid.Float64Range(20, 1000), rows*cols, rows*cols).Draw(t, "g")
		seen, got := make([]float64, len(g)), make([]float64, len(g))
		for k := range g {
			seen[k] = nodes(rows, cols, tie, g, k/cols, k%cols)
		}
		require.True(t, network.New(rows, cols, tie).Undo(seen, got))
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
	n := network.New(5, 8, network.Floating)
	n.Read(g, seen)
	for b.Loop() {
		n.Undo(seen, g)
	}
}
