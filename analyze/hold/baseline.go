package hold

import (
	"math"

	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// ZeroDrift is the source of uncertainty that a cell's zero changes while a foot is under
// load.
const ZeroDrift measure.Source = "zero drift"

// fromZeroDrift bounds the error of each measure by its change when the hold is measured
// with the zero found after the load. The zero during the hold lies anywhere between the
// one before the load, with which it was measured, and the one after; its mean square
// distance from the one before is a third of the square of their difference. Where the
// baseline moved so far that the hold was measured with a zero interpolated between the
// two, the same bound applies.
func fromZeroDrift(in *Instrument, _ *Typical) effectOf {
	return func(h *Hold, m *holdResult) measure.Effect {
		e := measure.Effect{
			Source: ZeroDrift, Type: measure.TypeB, Distribution: measure.Rectangular, Common: measure.OfStrip,
			Basis: "change of the zeros from before the load to after it",
		}
		if h.drift == nil {
			e.Basis = "not known: the strip was not unloaded after it"
			return e
		}
		e.Bound = in.withLaterZero(h, m)
		return e
	}
}

// driftMatters is the change of zero, as a share of all readings, above which the map is
// reconstructed again. Below it only load and centre of pressure change.
const driftMatters = 0.01

// withLaterZero returns the change of each measure when the hold is measured with the
// zero found after the load.
func (in *Instrument) withLaterZero(h *Hold, m *holdResult) map[measure.Measure]float64 {
	less, moved, all := make([]float64, len(h.pressure)), 0.0, 0.0
	for k, p := range h.pressure {
		less[k] = p - h.drift[k]
		moved += math.Abs(h.drift[k])
		all += p
	}
	before, after := in.measuresOf(m.full), &measure.Hold{}
	if moved > driftMatters*all {
		after = in.measuresOf(in.Grid.ReconstructFrom(m.full, less, h.noise))
	} else {
		loadN, at := in.perFrame(h.pressure)
		lessN, to := in.perFrame(less)
		in.locate(after, m.full, platform.Point{m.full.CoP[0] + to[0] - at[0], m.full.CoP[1] + to[1] - at[1]}, m.full.LoadN+lessN-loadN)
	}
	changes := map[measure.Measure]float64{}
	for _, one := range locatedMeasures {
		changes[one] = change(one, after, before)
	}
	changes[measure.OverChange] = changes[measure.Over] // at most: the baseline moves before and after the hold as well
	return changes
}
