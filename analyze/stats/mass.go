package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// MassInsideT returns the probability that an uncorrelated bivariate t distribution with
// dof degrees of freedom, the given mean and the scales sd along the two axes, assigns to
// a convex polygon (Kotz & Nadarajah, Multivariate t Distributions and Their Applications
// (2004), chapter 1): that of mean + sd·z·√(dof/χ²), z standard bivariate normal and χ²
// independent of it with dof degrees of freedom; with infinite dof it is normal. Corners
// may run either way round; mean, sd and corners have one unit.
//
// The absolute error is below 1e-12 with infinite dof and below 1e-10 else, where one scale
// is 0 below 2e-7. Where one scale is 0 the result is the probability of the polygon's chord
// through the mean; where both are 0 it is 1 for a mean inside or on the edge, else 0. With
// 0 degrees of freedom and a scale above 0 it is 0, since nothing is known of the place. It
// is NaN for a negative scale or dof and where an argument is NaN or a point is not finite,
// and 0 for a polygon without corners.
func MassInsideT[P ~[2]float64](convex []P, mean P, sd [2]float64, dof float64) float64 {
	extent := 0.0
	q := make([][2]float64, len(convex))
	for i, c := range convex {
		q[i] = [2]float64{c[0] - mean[0], c[1] - mean[1]}
		extent = max(extent, math.Abs(q[i][0]), math.Abs(q[i][1])) // max keeps NaN
	}
	switch {
	case math.IsNaN(extent) || math.IsInf(extent, 0) || !(sd[0] >= 0) || !(sd[1] >= 0) || !(dof >= 0):
		return math.NaN()
	case len(q) == 0, dof == 0 && sd != [2]float64{}:
		return 0
	}
	// An sd this small against the polygon is taken as 0: dividing by it would lose the digits.
	const negligible = 1e-12
	for k := range sd {
		if sd[k] <= negligible*extent {
			return massOnChord(q, k, sd[1-k], dof, negligible*extent)
		}
	}
	for i := range q {
		q[i][0] /= sd[0]
		q[i][1] /= sd[1]
	}
	sum := 0.0
	for i, a := range q {
		sum += massUnderEdge(a, q[(i+1)%len(q)], dof)
	}
	return min(1, math.Abs(sum))
}

// massUnderEdge returns the probability that the standard bivariate t distribution with dof
// degrees of freedom assigns to the triangle of the origin and the edge from a to b,
// negative where the edge runs clockwise. The probability beyond the distance r is
// (1 + r²/dof)^(−dof/2), with infinite dof exp(−r²/2), so that it is the integral of
// (1 − that)/2π over the angle that the edge subtends at the origin. Along the edge, with h
// the distance of its line from the origin and s that from the foot of the perpendicular,
// the angle grows by h/r² ds, r² = h² + s².
//
// The integrand has no pole at r = 0. It is smooth over lengths of 1, of √dof if that is
// less, and far from the origin of a part of r: Gauss-Legendre points are set in pieces of
// that length.
func massUnderEdge(a, b [2]float64, dof float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	l := math.Hypot(dx, dy)
	h := (a[0]*b[1] - a[1]*b[0]) / l // the origin lies on the left where it is positive
	if l == 0 || math.Abs(h) < 1e-100 {
		return 0
	}
	smooth := min(1, math.Sqrt(dof))
	// Both ends are projected: from + l has the rounding error of the end farther away.
	from, to := (a[0]*dx+a[1]*dy)/l, (b[0]*dx+b[1]*dy)/l
	sum := 0.0
	for from < to {
		near := math.Hypot(h, from)
		if from < 0 { // the piece ends nearer to the origin
			near /= 1.25
		}
		piece := max(smooth, near/4)
		end := from + piece
		if end > to || end <= from {
			end = to
		}
		rule := &coarseRule
		if end-from > piece/4 {
			rule = &fineRule
		}
		sum += rule.over(from, end, h, dof)
		from = end
	}
	return h * sum / (2 * math.Pi)
}

// within returns the probability that the standard bivariate t distribution assigns to
// places within r of the origin, given r².
func within(r2, dof float64) float64 {
	if dof > 1e12 { // the difference is below 1e-12
		return -math.Expm1(-r2 / 2)
	}
	return -math.Expm1(-dof / 2 * math.Log1p(r2/dof))
}

// rule holds the points and weights of Gauss-Legendre quadrature over [0, 1].
type rule struct{ x, weight []float64 }

func gaussLegendre(points int) (r rule) {
	r.x, r.weight = make([]float64, points), make([]float64, points)
	quad.Legendre{}.FixedLocations(r.x, r.weight, 0, 1)
	return r
}

// Rules of massUnderEdge for a piece and for a quarter of it. Their errors are below 3e-15
// with infinite dof and below 1e-12 from 0.1 degrees of freedom on.
var fineRule, coarseRule = gaussLegendre(8), gaussLegendre(4)

// over integrates the probability within r of the origin over r², r² = h² + s², over s.
func (r *rule) over(from, to, h, dof float64) float64 {
	sum := 0.0
	for i, x := range r.x {
		s := from + x*(to-from)
		r2 := h*h + s*s
		sum += r.weight[i] * within(r2, dof) / r2
	}
	return sum * (to - from)
}

// massOnChord returns the probability that a variable along axis 1−k, of Student's t
// distribution about 0 with the scale sd, lies in the polygon q, whose corners are
// relative to the mean. A corner within near of the axis is taken to lie on it.
func massOnChord(q [][2]float64, k int, sd, dof, near float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, a := range q {
		b := q[(i+1)%len(q)]
		if math.Abs(a[k]) <= near {
			lo, hi = min(lo, a[1-k]), max(hi, a[1-k])
		} else if math.Abs(b[k]) > near && (a[k] < 0) != (b[k] < 0) {
			at := a[1-k] + (b[1-k]-a[1-k])*a[k]/(a[k]-b[k])
			lo, hi = min(lo, at), max(hi, at)
		}
	}
	upper := func(t float64) float64 {
		if dof > 1e6 { // the difference is below 2e-7
			return upperTail(t)
		}
		return distuv.StudentsT{Sigma: 1, Nu: dof}.CDF(-t)
	}
	switch {
	case lo > hi:
		return 0
	case sd <= near:
		if lo <= near && hi >= -near {
			return 1
		}
		return 0
	case lo > 0: // from the upper tail, where the difference keeps its digits
		return upper(lo/sd) - upper(hi/sd)
	}
	return upper(-hi/sd) - upper(-lo/sd)
}
