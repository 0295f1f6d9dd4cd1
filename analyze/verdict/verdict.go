// Package verdict judges where the load lies relative to the kern of a platform, given
// the uncertainty of its position, and words the result.
package verdict

import (
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device/platform"
)

// Limits of the probability that the load acts inside the kern. From InsideFrom on
// the verdict is over the box; up to OutsideUpTo it is not; between them it is too
// close to call.
const (
	InsideFrom  = 0.95
	OutsideUpTo = 0.05
)

// Judge returns the verdict on a centre of pressure at [medial, over] mm with standard
// uncertainties u, mm, that have dof degrees of freedom; the probability that it lies
// inside the kern, which is the mass within the kern of the bivariate t distribution
// about at with the scales u (see stats.MassInsideT); and the directions in which it
// misses the kern. dof is the smaller of both axes' and may be +Inf.
//
// Each axis is also judged separately: misses contains a direction where the interval
// along that axis, mean ± t·u with Student's t at 1 − OutsideUpTo, lies beyond the whole
// kern; over comes first. The verdict names an axis that misses. Where both do, or
// neither (beside an oblique edge of the kern), it names the axis along which the load is
// further off relative to the size of the kern.
func Judge(kern platform.Polygon, at, u platform.Point, dof float64) (v measure.Verdict, inside float64, misses []measure.Direction) {
	inside = stats.MassInsideT([]platform.Point(kern), at, [2]float64(u), dof)
	switch {
	case inside >= InsideFrom:
		return measure.OverTheBox, inside, nil
	case inside > OutsideUpTo:
		return measure.TooCloseToCall, inside, nil
	}
	lo, hi := kern.Bounds()
	t := stats.TQuantile(1-OutsideUpTo, dof)
	behind, inFront := at[1]+t*u[1] < lo[1], at[1]-t*u[1] > hi[1]
	littleToe, bigToe := at[0]+t*u[0] < lo[0], at[0]-t*u[0] > hi[0]
	switch {
	case behind:
		misses = append(misses, measure.Behind)
	case inFront:
		misses = append(misses, measure.InFront)
	}
	switch {
	case littleToe:
		misses = append(misses, measure.LittleToeSide)
	case bigToe:
		misses = append(misses, measure.BigToeSide)
	}
	sideways := math.Abs(at[0])/(hi[0]-lo[0]) > math.Abs(at[1])/(hi[1]-lo[1])
	if len(misses) == 1 {
		sideways = littleToe || bigToe
	}
	switch {
	case sideways:
		v = measure.ToTheSide
	case at[1] < 0:
		v = measure.PulledBack
	default:
		v = measure.TooFarOver
	}
	return v, inside, misses
}

// Ring returns the half-widths along medial and over, mm, of the ellipse about a centre
// of pressure that corresponds to a verdict: t·u with Student's t at 1 − OutsideUpTo and
// dof degrees of freedom, the other arguments of [Judge]. A straight edge touches the
// ellipse where the probability of lying beyond it is OutsideUpTo. An ellipse that
// crosses the kern's edge is therefore never judged over the box, and one that is wholly
// outside the kern is always judged outside, since there is a straight line between them.
// Where two or more edges are close, each has its own probability: an ellipse wholly
// inside can be too close to call, and one that crosses a corner of the kern can be
// judged outside.
func Ring(u platform.Point, dof float64) (half platform.Point) {
	t := stats.TQuantile(1-OutsideUpTo, dof)
	return platform.Point{t * u[0], t * u[1]}
}

// Directions returns the directions in which a centre of pressure with the verdict v
// misses the kern: misses, or else, where they are not known or neither axis misses
// separately, that of the verdict. It returns nil where the verdict names none. medialMM
// is the medial coordinate, mm.
func Directions(v measure.Verdict, misses []measure.Direction, medialMM float64) []measure.Direction {
	switch {
	case len(misses) > 0:
		return misses
	case v == measure.PulledBack:
		return []measure.Direction{measure.Behind}
	case v == measure.TooFarOver:
		return []measure.Direction{measure.InFront}
	case v == measure.ToTheSide && medialMM < 0:
		return []measure.Direction{measure.LittleToeSide}
	case v == measure.ToTheSide:
		return []measure.Direction{measure.BigToeSide}
	}
	return nil
}
