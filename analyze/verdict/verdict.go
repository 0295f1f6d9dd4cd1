// Package verdict judges where the load stands against the kern of a platform,
// given how uncertain its place is.
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

// Judge returns the verdict on a centre of pressure at [medial, over] mm with
// standard uncertainties u, mm, that have dof degrees of freedom, and the probability
// that it lies inside the kern: the mass within the kern of the bivariate t distribution
// about at with the scales u (see stats.MassInsideT). dof is the smaller of both axes'
// and may be +Inf.
func Judge(kern platform.Polygon, at, u platform.Point, dof float64) (measure.Verdict, float64) {
	inside := stats.MassInsideT([]platform.Point(kern), at, [2]float64(u), dof)
	switch {
	case inside >= InsideFrom:
		return measure.OverTheBox, inside
	case inside > OutsideUpTo:
		return measure.TooCloseToCall, inside
	}
	lo, hi := kern.Bounds()
	halfWidth, halfDepth := (hi[0]-lo[0])/2, (hi[1]-lo[1])/2
	switch {
	case math.Abs(at[0])/halfWidth > math.Abs(at[1])/halfDepth:
		return measure.ToTheSide, inside
	case at[1] < 0:
		return measure.PulledBack, inside
	}
	return measure.TooFarOver, inside
}
