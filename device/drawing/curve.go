package drawing

import (
	"fmt"
	"math"

	"aplomb/device"
	"aplomb/device/platform"
)

// line draws a straight line.
func (p *pen) line(end platform.Point) error {
	p.points, p.at = append(p.points, end), end
	if len(p.points) > device.MaxOutline {
		return fmt.Errorf("more than %d points: is the scale right?", device.MaxOutline)
	}
	return nil
}

// curve draws a curve, given by its parameter t from 0 to 1, as straight lines of equal
// steps h of t, short enough for the tolerance: the distance of a chord from the curve is
// at most h²/8 times the largest second derivative, second (the remainder of linear
// interpolation).
func (p *pen) curve(second float64, end platform.Point, of func(t float64) platform.Point) error {
	n := math.Ceil(math.Sqrt(second / 8 / p.tolerance))
	if !(n <= device.MaxOutline) {
		return fmt.Errorf("more than %d points: is the scale right?", device.MaxOutline)
	}
	for i := 1.0; i < n; i++ {
		if err := p.line(of(i / n)); err != nil {
			return err
		}
	}
	return p.line(end)
}

// secondDifference returns the length of a − 2b + c.
func secondDifference(a, b, c platform.Point) float64 {
	return math.Hypot(a[0]-2*b[0]+c[0], a[1]-2*b[1]+c[1])
}

// quadratic draws a quadratic Bézier curve.
func (p *pen) quadratic(b, end platform.Point) error {
	a := p.at
	return p.curve(2*secondDifference(a, b, end), end, func(t float64) platform.Point {
		u := 1 - t
		return platform.Point{u*u*a[0] + 2*u*t*b[0] + t*t*end[0], u*u*a[1] + 2*u*t*b[1] + t*t*end[1]}
	})
}

// cubic draws a cubic Bézier curve.
func (p *pen) cubic(b, c, end platform.Point) error {
	a := p.at
	return p.curve(6*max(secondDifference(a, b, c), secondDifference(b, c, end)), end, func(t float64) platform.Point {
		u := 1 - t
		k, l, m, n := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
		return platform.Point{k*a[0] + l*b[0] + m*c[0] + n*end[0], k*a[1] + l*b[1] + m*c[1] + n*end[1]}
	})
}

// arc draws part of an ellipse (SVG 1.1, appendix F.6, for its centre and for radii that
// are too small).
func (p *pen) arc(rx, ry, degrees float64, large, sweep bool, end platform.Point) error {
	rx, ry = math.Abs(rx), math.Abs(ry)
	if p.at == end {
		return nil
	}
	if rx == 0 || ry == 0 {
		return p.line(end)
	}
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	hx, hy := (p.at[0]-end[0])/2, (p.at[1]-end[1])/2
	x, y := (cos*hx+sin*hy)/rx, (cos*hy-sin*hx)/ry // on the unit circle, halfway
	apart := math.Hypot(x, y)
	if apart > 1 {
		rx, ry, x, y, apart = rx*apart, ry*apart, x/apart, y/apart, 1
	}
	k := math.Sqrt(max(0, 1-apart*apart)) / apart
	if large == sweep {
		k = -k
	}
	cx, cy := k*y, -k*x
	from := math.Atan2(y-cy, x-cx)
	turn := math.Mod(math.Atan2(-y-cy, -x-cx)-from, 2*math.Pi)
	switch {
	case sweep && turn < 0:
		turn += 2 * math.Pi
	case !sweep && turn > 0:
		turn -= 2 * math.Pi
	}
	mx, my := (p.at[0]+end[0])/2, (p.at[1]+end[1])/2
	return p.curve(turn*turn*max(rx, ry), end, func(t float64) platform.Point {
		s, c := math.Sincos(from + t*turn)
		u, v := rx*(c+cx), ry*(s+cy)
		return platform.Point{mx + cos*u - sin*v, my + sin*u + cos*v}
	})
}
