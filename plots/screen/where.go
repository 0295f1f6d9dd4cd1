package screen

import (
	"math"

	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// keepsWithin is the share of the kern by which the load must move beyond a border between
// two verdicts for Where to change, so that sway across the border does not. It is our own
// choice.
const keepsWithin = 0.1

// Where returns where the centre of pressure at, mm, lies against a kern now, without
// regard to uncertainty: inside it, or beyond it along the axis on which it is further off
// for the size of the kern. before is what Where returned last, "" for nothing.
func Where(kern platform.Polygon, at platform.Point, before measure.Verdict) measure.Verdict {
	reach := 1.0
	if before == measure.OverTheBox {
		reach += keepsWithin
	}
	if kern.Contains(platform.Point{at[0] / reach, at[1] / reach}) {
		return measure.OverTheBox
	}
	lo, hi := kern.Bounds()
	sideways, lengthwise := math.Abs(at[0])/(hi[0]-lo[0]), math.Abs(at[1])/(hi[1]-lo[1])
	switch before {
	case measure.ToTheSide:
		sideways *= 1 + keepsWithin
	case measure.PulledBack, measure.TooFarOver:
		lengthwise *= 1 + keepsWithin
	}
	switch {
	case sideways > lengthwise:
		return measure.ToTheSide
	case at[1] < 0:
		return measure.PulledBack
	}
	return measure.TooFarOver
}
