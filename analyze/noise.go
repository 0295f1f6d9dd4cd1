package analyze

import (
	"math/rand/v2"

	"aplomb/analyze/measure"
)

// Noise is the uncertainty from the electrical noise of the cells.
const Noise measure.Source = "noise"

// fromNoise draws the mean map of the typical hold with the noise of its cells.
func fromNoise(_ *instrument, t *typical) effectOf {
	return always(measure.Effect{
		Source: Noise, Type: measure.TypeA, Distribution: measure.Normal, Common: measure.OfReleve,
		Basis: "noise of the unloaded cells, averaged over the hold",
		Draws: t.noiseDraws,
	})
}

// newStream returns the random numbers of a stream, the same every time.
func newStream(stream uint64) *rand.Rand { return rand.New(rand.NewPCG(stream, 1)) }
