package field

import (
	"math"

	"aplomb/device/platform"
)

// plane is the linear function c + grad·r of a point r.
type plane struct {
	c    float64
	grad platform.Point
}

func (f plane) at(r platform.Point) float64 { return f.c + f.grad[0]*r[0] + f.grad[1]*r[1] }

// integrals are the integral of a function over a region and its first moments.
type integrals struct {
	value  float64        // ∫ f dA
	moment platform.Point // ∫ r·f dA
}

// integrate returns the integral over poly (counter-clockwise) of max(0, f)ⁿ and
// its first moments; n > -1. With n = 0 it is the area where f is positive.
//
// f is linear, so grad·f^(n+1) / ((n+1)·|grad|²) has the divergence fⁿ, and the
// divergence theorem leaves sums over the edges, along which f is linear too.
// f^(n+1) vanishes on the line f = 0, so the polygon need not be clipped there.
//
// The formula divides by |grad|²: it is for regions over which f changes by a
// considerable part of itself; integrateExpansion is for the others.
func integrate(poly platform.Polygon, f plane, n float64) integrals {
	g2 := f.grad[0]*f.grad[0] + f.grad[1]*f.grad[1]
	if g2 < 1e-280 { // its inverse would overflow
		return integrateConstant(poly, f.c, n)
	}
	o := poly[0] // points are taken relative to it, which reduces rounding errors
	var s integrals
	var up float64 // ∫ f^(n+1) dA
	for i, a := range poly {
		b := poly[(i+1)%len(poly)]
		fa, fb := f.at(a), f.at(b)
		if fa <= 0 && fb <= 0 {
			continue
		}
		// grad·(outward normal), times the length of the edge
		flux := f.grad[0]*(b[1]-a[1]) - f.grad[1]*(b[0]-a[0])
		e0, e1, next := edge(fa, fb, n+1)
		s.value += flux * e0
		s.moment[0] += flux * ((a[0]-o[0])*e0 + (b[0]-a[0])*e1)
		s.moment[1] += flux * ((a[1]-o[1])*e0 + (b[1]-a[1])*e1)
		up += flux * next
	}
	scale := 1 / ((n + 1) * g2)
	up /= (n + 2) * g2
	s.value *= scale
	// div(r·F) = r·div F + F gives the second term.
	s.moment[0] = scale*(s.moment[0]-f.grad[0]*up) + o[0]*s.value
	s.moment[1] = scale*(s.moment[1]-f.grad[1]*up) + o[1]*s.value
	return s
}

// edge returns ∫ fⁿ dt, ∫ t·fⁿ dt and ∫ f^(n+1) dt over the interval of t from 0
// to 1 in which f is positive; f runs linearly from fa to fb.
func edge(fa, fb, n float64) (e0, e1, next float64) {
	d := fb - fa
	if math.Abs(d) < 0.02*max(fa, fb) {
		// The closed form would lose digits where f hardly changes; three-point
		// Gauss-Legendre quadrature is exact to rounding there.
		for i, t := range gaussAt {
			f := fa + t*d
			v := gaussW[i] * pow(f, n)
			e0, e1, next = e0+v, e1+v*t, next+v*f
		}
		return e0, e1, next
	}
	pa, pb := max(0, fa), max(0, fb)
	ua, ub := pow(pa, n+1), pow(pb, n+1)
	e0 = (ub - ua) / ((n + 1) * d)
	next = (ub*pb - ua*pa) / ((n + 2) * d)
	return e0, (next - fa*e0) / d, next
}

// Nodes and weights of three-point Gauss-Legendre quadrature on [0, 1].
var (
	gaussAt = [3]float64{0.5 - 0.3872983346207417, 0.5, 0.5 + 0.3872983346207417}
	gaussW  = [3]float64{5. / 18, 8. / 18, 5. / 18}
)

// pow is math.Pow for f ≥ 0 with fast common cases; a negative f counts as 0.
func pow(f, n float64) float64 {
	switch {
	case n == 0:
		return 1
	case n == 1:
		return f
	case n == 2:
		return f * f
	case f <= 0:
		return 0
	}
	return math.Exp(n * math.Log(f))
}

// integrateConstant is integrate for a constant function.
func integrateConstant(poly platform.Polygon, c, n float64) integrals {
	if c <= 0 {
		return integrals{}
	}
	return uniformLoad(poly.Moments(), pow(c, n))
}

// uniformLoad returns the integrals of the constant v over a region.
func uniformLoad(b platform.Moments, v float64) integrals {
	return integrals{v * b.Area, platform.Point{v * b.Area * b.Centroid[0], v * b.Area * b.Centroid[1]}}
}

// integrateExpansion is integrate for a region over which f is positive and
// changes by a small part of itself: a Taylor expansion about the centroid up to
// the second order.
func integrateExpansion(b platform.Moments, f plane, n float64) integrals {
	f0 := f.at(b.Centroid)
	rel := platform.Point{f.grad[0] / f0, f.grad[1] / f0}
	jm := b.MM*rel[0] + b.MO*rel[1]
	jo := b.MO*rel[0] + b.OO*rel[1]
	v := pow(f0, n)
	s := uniformLoad(b, v*(1+n*(n-1)/2*(rel[0]*jm+rel[1]*jo)/b.Area))
	s.moment[0] += n * v * jm
	s.moment[1] += n * v * jo
	return s
}
