package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// MassInside returns the probability that a normal distribution with the given
// mean and the standard deviations sd along the two axes, uncorrelated, puts on
// a convex polygon, whichever way round its corners run. Its absolute error is
// below 1e-12. Where one sd is 0 it is the mass on the polygon's chord through
// the mean, where both are 0 it is 1 for a mean inside or on the edge, else 0.
// It is NaN for a negative sd, anything that is NaN and places that are not
// finite, and 0 for a polygon without corners.
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
	// An sd this small against the polygon is 0 to any reader, and dividing by it would lose the digits.
	const nothing = 1e-12
	for k := range sd {
		if sd[k] <= nothing*extent {
			return massOnChord(q, k, sd[1-k], nothing*extent)
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

// massUnderEdge returns the mass of the unit normal on the triangle between the
// origin and the edge from a to b, negative where that runs clockwise. With h
// the distance of the edge's line from the origin it is the integral of
// (1 − exp(−h²/(2cos²θ)))/2π over the angle the edge is seen under.
func massUnderEdge(a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	l := math.Hypot(dx, dy)
	h := (a[0]*b[1] - a[1]*b[0]) / l // the origin lies on the left where it is positive
	if l == 0 || math.Abs(h) < 1e-100 {
		return 0
	}
	if l <= shortEdge {
		// Along the edge, s from its foot, the integral is of h(1 − exp(−r²/2))/2πr²
		// with r² = h² + s², which has no pole.
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
		// T(h, a) + T(ah, 1/a) = (Q(h) + Q(ah))/2 − Q(h)Q(ah), Q the upper tail;
		// here the integral is always over 1 at most, where it is smooth.
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

// shortEdge is up to where 8 Gauss-Legendre points are as good as the 48 of owenT
// twice: to 1e-14, and outlines of curves have many short edges.
const shortEdge = 1

var shortRule = func() (r struct{ x, weight [8]float64 }) {
	quad.Legendre{}.FixedLocations(r.x[:], r.weight[:], 0, 1)
	return r
}()

// unitRule integrates over [0, 1] by 24 Gauss-Legendre points.
var unitRule = func() (r struct{ x, weight [24]float64 }) {
	quad.Legendre{}.FixedLocations(r.x[:], r.weight[:], 0, 1)
	return r
}()

func upperTail(x float64) float64 { return math.Erfc(x/math.Sqrt2) / 2 }

// massOnChord returns the mass of a normal with standard deviation sd along the
// axis other than k on the part of that axis that lies in the polygon, whose
// corners are taken from the mean; an edge within near of the axis lies on it.
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
