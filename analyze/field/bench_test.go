package field

import (
	"math/rand/v2"
	"testing"
)

// benchmarked returns the mean map of a hold on a strip of 5 × 8 cells.
func benchmarked(f family) shot {
	rng := rand.New(rand.NewPCG(5, 5))
	outline := outlines[1].curve
	strip := tableStrip(rng, 5)
	strip.Rows, strip.Cols = 5, 8
	s := shot{grid: New(strip, outline), noise: make([]float64, strip.Cells())}
	s.p, s.truth = observe(f.draw(rng, outline), strip, outline)
	for k := range s.p {
		s.p[k] = s.p[k]*300/s.truth.load*(1+f.gain*rng.NormFloat64()) + 0.5*rng.NormFloat64()
		s.noise[k] = 0.5
	}
	return s
}

// BenchmarkFrame measures one frame of 40 cells: three sums over the weights.
func BenchmarkFrame(b *testing.B) {
	s := benchmarked(families[0])
	ws := s.grid.Weights()
	b.ReportAllocs()
	for b.Loop() {
		weighted(ws, s.p)
	}
}

func BenchmarkReconstruct(b *testing.B) {
	for _, f := range families {
		b.Run(f.name, func(b *testing.B) {
			s := benchmarked(f)
			b.ReportAllocs()
			for b.Loop() {
				s.grid.Reconstruct(s.p, s.noise)
			}
		})
	}
}

func BenchmarkNew(b *testing.B) {
	g := benchmarked(families[0]).grid
	for b.Loop() {
		New(g.strip, g.Outline)
	}
}
