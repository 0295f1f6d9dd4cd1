package screen

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// keepsWithin is the hysteresis of Where: the share of the kern by which the load must
// move beyond a border between two verdicts to change the result, so that sway across the
// border does not. It is our own choice.
const keepsWithin = 0.1

// Place is the present position of a foot's load relative to the kern, without regard to
// uncertainty. The zero Place is that of a foot without load.
type Place struct {
	Verdict measure.Verdict
	Misses  []measure.Direction // beyond the whole length or width of the kern, over first
}

// Where returns the place of the centre of pressure at, mm. The verdict of a point
// outside the kern names the axis on which the point is further off relative to the size
// of the kern, or the only one on which it misses. before is the previous result of
// Where.
func Where(kern platform.Polygon, at platform.Point, before Place) Place {
	reach := 1.0
	if before.Verdict == measure.OverTheBox {
		reach += keepsWithin
	}
	if kern.Contains(platform.Point{at[0] / reach, at[1] / reach}) {
		return Place{Verdict: measure.OverTheBox}
	}
	lo, hi := kern.Bounds()
	var misses []measure.Direction
	for _, side := range []struct {
		is       measure.Direction
		by, edge float64 // mm
	}{
		{measure.Behind, -at[1], -lo[1]}, {measure.InFront, at[1], hi[1]},
		{measure.LittleToeSide, -at[0], -lo[0]}, {measure.BigToeSide, at[0], hi[0]},
	} {
		if slices.Contains(before.Misses, side.is) {
			side.edge *= 1 - keepsWithin
		}
		if side.by > side.edge {
			misses = append(misses, side.is)
		}
	}
	sideways, lengthwise := math.Abs(at[0])/(hi[0]-lo[0]), math.Abs(at[1])/(hi[1]-lo[1])
	switch before.Verdict {
	case measure.ToTheSide:
		sideways *= 1 + keepsWithin
	case measure.PulledBack, measure.TooFarOver:
		lengthwise *= 1 + keepsWithin
	}
	beside := sideways > lengthwise
	if len(misses) == 1 {
		beside = misses[0] == measure.LittleToeSide || misses[0] == measure.BigToeSide
	}
	switch {
	case beside:
		return Place{measure.ToTheSide, misses}
	case at[1] < 0:
		return Place{measure.PulledBack, misses}
	}
	return Place{measure.TooFarOver, misses}
}
