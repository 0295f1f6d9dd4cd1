package hold

import (
	"aplomb/analyze/measure"
)

// Noise is the source of uncertainty due to the electrical noise of the cells.
const Noise measure.Source = "noise"

// fromNoise returns the uncertainty from Monte Carlo draws of the typical hold's mean map
// with the noise of its cells.
func fromNoise(_ *Instrument, t *Typical) effectOf {
	return constantEffect(measure.Effect{
		Source: Noise, Type: measure.TypeA, Distribution: measure.Normal, Common: measure.OfReleve,
		Basis: "noise of the unloaded cells, averaged over the hold",
		Draws: t.noiseDraws,
	})
}
