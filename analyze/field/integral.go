package field

import (
	"math"

	"aplomb/device/platform"
)

// plane is the function c + grad·r of a place r.
type plane struct {
	c    float64
	grad platform.Point
}

func (f plane) at(r platform.Point) float64 { return f.c + f.grad[0]*r[0] + f.grad[1]*r[1] }

// sums are the integral of a function over a region and its first moments.
type integrals struct {
	value  float64        // ∫ f dA
	moment platform.Point // ∫ r·f dA
}

// integrate returns the integral over poly (counter-clockwise) of f to the
// power n where f is positive and of 0 where it is not; n > -1. With n = 0 it
// is the area where f is positive.
//
// f is linear, so grad·f^(n+1) / ((n+1)·|grad|²) has the divergence fⁿ and the
// divergence theorem leaves sums over the edges, along which f is linear too.
// f^(n+1) vanishes where f does, so the line f = 0 needs no clipping.
//
// The formula divides by |grad|²: it is for regions over which f changes by a
// fair part of itself, and smooth is for the others.
func integrate(poly platform.Polygon, f plane, n float64) integrals {
	g2 := f.grad[0]*f.grad[0] + f.grad[1]*f.grad[1]
	if g2 < 1e-280 { // its inverse would overflow
		return integrateConstant(poly, f.c, n)
	}
	o := poly[0] // places are taken from here, which keeps their digits
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
	// div(r·F) = r·div F + F, whence the second term.
	s.moment[0] = scale*(s.moment[0]-f.grad[0]*up) + o[0]*s.value
	s.moment[1] = scale*(s.moment[1]-f.grad[1]*up) + o[1]*s.value
	return s
}

// edge returns, for f running linearly from fa to fb as t runs from 0 to 1,
// ∫ fⁿ dt, ∫ t·fⁿ dt and ∫ f^(n+1) dt over the stretch where f is positive.
func edge(fa, fb, n float64) (e0, e1, next float64) {
	d := fb - fa
	if math.Abs(d) < 0.02*max(fa, fb) {
		// The closed form would lose its digits; f hardly changes, so the three
		// points of Gauss and Legendre are as good as exact.
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

var (
	gaussAt = [3]float64{0.5 - 0.3872983346207417, 0.5, 0.5 + 0.3872983346207417}
	gaussW  = [3]float64{5. / 18, 8. / 18, 5. / 18}
)

// power is math.Pow with the common cases made fast.
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

// flat is integrate for a constant.
func integrateConstant(poly platform.Polygon, c, n float64) integrals {
	if c <= 0 {
		return integrals{}
	}
	return uniformLoad(poly.Moments(), pow(c, n))
}

func uniformLoad(b platform.Moments, v float64) integrals {
	return integrals{v * b.Area, platform.Point{v * b.Area * b.Centroid[0], v * b.Area * b.Centroid[1]}}
}

// smooth is integrate for a region over which f is positive and changes by a
// small part of itself: the terms up to the second order about the centroid.
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
