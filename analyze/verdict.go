package analyze

import (
	"math"

	"aplomb/analyze/stats"
	"aplomb/device/platform"
)

// Where a verdict is given: p_inside from insideFrom is over the box, up to
// outsideUpTo is not. Between them the uncertainty does not tell.
const (
	insideFrom  = 0.95
	outsideUpTo = 0.05
)

// Judge says where a centre of pressure at [medial, over] mm with standard
// uncertainties u stands against the kern, and the probability that it is
// inside: the mass of N(at, diag(u²)) within the kern.
func Judge(kern platform.Polygon, at, u platform.Point) (Verdict, float64) {
	inside := stats.MassInside([]platform.Point(kern), at, [2]float64(u))
	switch {
	case inside >= insideFrom:
		return Over, inside
	case inside > outsideUpTo:
		return TooCloseToCall, inside
	}
	lo, hi := kern.Bounds()
	halfWidth, halfDepth := (hi[0]-lo[0])/2, (hi[1]-lo[1])/2
	switch {
	case math.Abs(at[0])/halfWidth > math.Abs(at[1])/halfDepth:
		return ToTheSide, inside
	case at[1] < 0:
		return NotOver, inside
	}
	return TooFarOver, inside
}
