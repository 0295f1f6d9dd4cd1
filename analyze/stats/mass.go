package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// MassInside returns the probability that an uncorrelated bivariate normal
// distribution, with the given mean and the standard deviations sd along the two
// axes, assigns to a convex polygon. Corners may run either way round; all
// arguments have one unit. The integral is summed over the edges by Owen's T
// (Owen, Annals of Mathematical Statistics 27 (1956) 1075-1090); its absolute
// error is below 1e-12. Where one sd is 0 the result is the probability of the
// polygon's chord through the mean; where both are 0 it is 1 for a mean inside
// or on the edge, else 0. It is NaN for a negative sd and where an argument is
// NaN or a point is not finite, and 0 for a polygon without corners.
func MassInside[P ~[2]float64](convex []P, mean P, sd [2]float64) float64 {
	extent := 0.0
	q := make([][2]float64, len(convex))
	for i, c := range convex {
		q[i] = [2]float64{c[0] - mean[0], c[1] - mean[1]}
		extent = max(extent, math.Abs(q[i][0]), math.Abs(q[i][1])) // max keeps NaN
	}
	switch {
	case math.IsNaN(extent) || math.IsInf(extent, 0) || !(sd[0] >= 0) || !(sd[1] >= 0):
		return math.NaN()
	case len(q) == 0:
		return 0
	}
	// An sd this small against the polygon is taken as 0: dividing by it would lose the digits.
	const negligible = 1e-12
	for k := range sd {
		if sd[k] <= negligible*extent {
			return massOnChord(q, k, sd[1-k], negligible*extent)
		}
	}
	for i := range q {
		q[i][0] /= sd[0]
		q[i][1] /= sd[1]
	}
	sum := 0.0
	for i, a := range q {
		sum += massUnderEdge(a, q[(i+1)%len(q)])
	}
	return min(1, math.Abs(sum))
}

// massUnderEdge returns the probability that the standard bivariate normal
// assigns to the triangle of the origin and the edge from a to b, negative where
// the edge runs clockwise. With h the distance of the edge's line from the origin
// it is the integral of (1 − exp(−h²/(2cos²θ)))/2π over the angle θ that the
// edge subtends at the origin.
func massUnderEdge(a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	l := math.Hypot(dx, dy)
	h := (a[0]*b[1] - a[1]*b[0]) / l // the origin lies on the left where it is positive
	if l == 0 || math.Abs(h) < 1e-100 {
		return 0
	}
	if l <= shortEdge {
		// With s the distance along the edge from the foot of the perpendicular, the
		// integrand is h(1 − exp(−r²/2))/2πr², r² = h² + s², which has no pole.
		sum, from := 0.0, (a[0]*dx+a[1]*dy)/l
		for i, node := range shortRule.x {
			s := from + node*l
			r2 := h*h + s*s
			sum += shortRule.weight[i] * (1 - math.Exp(-r2/2)) / r2
		}
		return h * l * sum / (2 * math.Pi)
	}
	under := func(p [2]float64) float64 {
		t := (p[0]*dx + p[1]*dy) / l
		return math.Atan2(t, math.Abs(h))/(2*math.Pi) - owenT(math.Abs(h), t/math.Abs(h))
	}
	return math.Copysign(under(b)-under(a), h)
}

// owenT returns Owen's T(h, a) = 1/2π ∫₀ᵃ exp(−h²(1+x²)/2)/(1+x²) dx for h > 0
// (Owen, Annals of Mathematical Statistics 27 (1956) 1075-1090).
func owenT(h, a float64) float64 {
	if a < 0 {
		return -owenT(h, -a)
	}
	if a > 1 {
		// T(h, a) + T(ah, 1/a) = (Q(h) + Q(ah))/2 − Q(h)Q(ah), Q the upper tail
		// probability, reduces the range of integration to at most 1, where the
		// integrand is smooth.
		qh, qah := upperTail(h), upperTail(a*h)
		return (qh+qah)/2 - qh*qah - owenT(a*h, 1/a)
	}
	if h > 9 {
		return 0 // below 2e-19
	}
	sum := 0.0
	for i, node := range unitRule.x {
		x2 := a * a * node * node
		sum += unitRule.weight[i] * math.Exp(-h*h*(1+x2)/2) / (1 + x2)
	}
	return a * sum / (2 * math.Pi)
}

// shortEdge is the largest length of an edge, in standard deviations, for which 8
// Gauss-Legendre points reach 1e-14. They cost less than two calls of owenT with
// 24 points each, and outlines of curves have many short edges.
const shortEdge = 1

// shortRule integrates over [0, 1] by 8 Gauss-Legendre points.
var shortRule = func() (r struct{ x, weight [8]float64 }) {
	quad.Legendre{}.FixedLocations(r.x[:], r.weight[:], 0, 1)
	return r
}()

// unitRule integrates over [0, 1] by 24 Gauss-Legendre points.
var unitRule = func() (r struct{ x, weight [24]float64 }) {
	quad.Legendre{}.FixedLocations(r.x[:], r.weight[:], 0, 1)
	return r
}()

// upperTail returns the probability that a standard normal variable exceeds x.
func upperTail(x float64) float64 { return math.Erfc(x/math.Sqrt2) / 2 }

// massOnChord returns the probability that a normal variable along axis 1−k, with
// mean 0 and standard deviation sd, lies in the polygon q, whose corners are
// relative to the mean. A corner within near of the axis is taken to lie on it.
func massOnChord(q [][2]float64, k int, sd, near float64) float64 {
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
	switch {
	case lo > hi:
		return 0
	case sd <= near:
		if lo <= near && hi >= -near {
			return 1
		}
		return 0
	case lo > 0: // from the upper tail, where the difference keeps its digits
		return upperTail(lo/sd) - upperTail(hi/sd)
	}
	return upperTail(-hi/sd) - upperTail(-lo/sd)
}
