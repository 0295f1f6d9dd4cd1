// Package platform computes with the outline of a platform, the flat tip of a pointe
// shoe: its area, second moments and kern. Points are [medial, over] in mm.
package platform

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Point is a place on the platform, [medial, over], mm.
type Point [2]float64

// Polygon is a closed curve through its points; the last is joined to the first.
type Polygon []Point

// Moments are the moments of a region of uniform density about its own centroid.
type Moments struct {
	Area     float64 // mm²
	Centroid Point   // mm
	// Second moments of area about the centroid, mm⁴:
	// ∫medial² dA, ∫over² dA and ∫medial·over dA.
	MM, OO, MO float64
}

// Superellipse returns the curve |2·medial/width|ⁿ + |2·over/depth|ⁿ = 1 as a
// counter-clockwise polygon centred on the origin; n is the exponent, 2 an
// ellipse. The corners lie outside the curve by as much as makes the area that
// of the curve, width·depth·Γ(1+1/n)²/Γ(1+2/n).
func Superellipse(width, depth, exponent float64) Polygon {
	const points = 144
	p := make(Polygon, points)
	for i := range p {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / points)
		p[i] = Point{
			width / 2 * math.Copysign(math.Pow(math.Abs(cos), 2/exponent), cos),
			depth / 2 * math.Copysign(math.Pow(math.Abs(sin), 2/exponent), sin),
		}
	}
	g := math.Gamma(1 + 1/exponent)
	out := math.Sqrt(width * depth * g * g / math.Gamma(1+2/exponent) / p.Area())
	for i := range p {
		p[i][0] *= out
		p[i][1] *= out
	}
	return p
}

// Rectangle returns a width × depth rectangle centred on the origin, counter-clockwise.
func Rectangle(width, depth float64) Polygon {
	w, d := width/2, depth/2
	return Polygon{{-w, -d}, {w, -d}, {w, d}, {-w, d}}
}

// Check reports why p cannot be an outline: fewer than 3 points, a point that is not
// finite, no area, or a curve that crosses or touches itself.
func (p Polygon) Check() error {
	if len(p) < 3 {
		return fmt.Errorf("an outline takes at least 3 points, this has %d", len(p))
	}
	for i, q := range p {
		if math.IsNaN(q[0]+q[1]) || math.IsInf(q[0], 0) || math.IsInf(q[1], 0) {
			return fmt.Errorf("point %d is not finite", i+1)
		}
		if q == p[(i+1)%len(p)] {
			return fmt.Errorf("point %d and the next are the same (the curve closes by itself)", i+1)
		}
	}
	for i := range p {
		for j := i + 2; j < len(p); j++ {
			if i == 0 && j == len(p)-1 {
				continue // neighbours across the closing edge
			}
			if crosses(p[i], p[i+1], p[j], p[(j+1)%len(p)]) {
				return fmt.Errorf("the outline crosses itself between point %d and point %d", i+1, j+1)
			}
		}
	}
	if !(p.Area() >= 1e-9) { // also where it is not a number
		return errors.New("the outline encloses no area")
	}
	return nil
}

// signedArea is positive for a counter-clockwise curve, mm².
func (p Polygon) signedArea() float64 {
	sum := 0.0
	for i, a := range p {
		sum += cross(a, p[(i+1)%len(p)])
	}
	return sum / 2
}

// Area returns the enclosed area, mm².
func (p Polygon) Area() float64 { return math.Abs(p.signedArea()) }

// Moments returns area, centroid and second moments about the centroid by
// Green's theorem over the edges (Marin, Computing columns, footings and gates
// through moments of area, Computers & Structures 18 (1984) 343-349). A polygon without area has zero Moments.
func (p Polygon) Moments() Moments {
	if len(p) == 0 {
		return Moments{}
	}
	// Taken about the first point, so that a small part far from the origin
	// keeps its digits.
	o := p[0]
	var a, sm, so, mm, oo, mo float64
	for i := range p {
		u, v := sub(p[i], o), sub(p[(i+1)%len(p)], o)
		c := cross(u, v)
		a += c
		sm += c * (u[0] + v[0])
		so += c * (u[1] + v[1])
		mm += c * (u[0]*u[0] + u[0]*v[0] + v[0]*v[0])
		oo += c * (u[1]*u[1] + u[1]*v[1] + v[1]*v[1])
		mo += c * (u[0]*v[1] + 2*u[0]*u[1] + 2*v[0]*v[1] + v[0]*u[1])
	}
	if a < 0 {
		a, sm, so, mm, oo, mo = -a, -sm, -so, -mm, -oo, -mo
	}
	a /= 2
	if a < 1e-12 {
		return Moments{}
	}
	cm, co := sm/(6*a), so/(6*a)
	return Moments{
		Area:     a,
		Centroid: Point{o[0] + cm, o[1] + co},
		MM:       mm/12 - a*cm*cm,
		OO:       oo/12 - a*co*co,
		MO:       mo/24 - a*cm*co,
	}
}

// Centred returns p counter-clockwise and moved so that its centroid is the origin.
func (p Polygon) Centred() Polygon {
	c := p.Moments().Centroid
	q := p.Shift(Point{-c[0], -c[1]})
	if p.signedArea() < 0 {
		slices.Reverse(q)
	}
	return q
}

// Shift returns p moved by d.
func (p Polygon) Shift(d Point) Polygon {
	q := make(Polygon, len(p))
	for i, a := range p {
		q[i] = Point{a[0] + d[0], a[1] + d[1]}
	}
	return q
}

// Bounds returns the smallest and the largest coordinate along each axis, mm.
func (p Polygon) Bounds() (lo, hi Point) {
	lo, hi = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, q := range p {
		for k := range q {
			lo[k], hi[k] = min(lo[k], q[k]), max(hi[k], q[k])
		}
	}
	return lo, hi
}

// Clip returns the part of p inside window, which must be convex and
// counter-clockwise (Sutherland & Hodgman, Communications of the ACM 17 (1974)
// 32-42). Where p is concave the result may hold edges that run back over each
// other; area and moments are right all the same. It is empty where they do not meet.
func (p Polygon) Clip(window Polygon) Polygon {
	var buffers [2]Polygon // used in turn for the polygon before and after a cut
	for i := range window {
		left := clipHalf(p, window[i], window[(i+1)%len(window)], buffers[i%2][:0])
		if len(left) == 0 {
			return nil
		}
		p, buffers[i%2] = left, left
	}
	return p
}

// clipHalf appends to out the part of p left of the line from a to b.
func clipHalf(p Polygon, a, b Point, out Polygon) Polygon {
	if len(p) == 0 {
		return out
	}
	x, y, dx, dy := a[0], a[1], b[0]-a[0], b[1]-a[1]
	side := func(q Point) float64 { return dx*(q[1]-y) - dy*(q[0]-x) }
	q := p[0]
	s := side(q)
	for i := range p {
		next := p[0]
		if i+1 < len(p) {
			next = p[i+1]
		}
		t := side(next)
		if s >= 0 {
			out = append(out, q)
		}
		if s > 0 && t < 0 || s < 0 && t > 0 {
			f := s / (s - t)
			out = append(out, Point{q[0] + f*(next[0]-q[0]), q[1] + f*(next[1]-q[1])})
		}
		q, s = next, t
	}
	return out
}

// HalfPlane returns the part of p where n·r ≤ d.
func (p Polygon) HalfPlane(n Point, d float64) Polygon {
	l := math.Hypot(n[0], n[1])
	n, d = Point{n[0] / l, n[1] / l}, d/l
	foot := Point{n[0] * d, n[1] * d}
	return clipHalf(p, foot, Point{foot[0] - n[1], foot[1] + n[0]}, nil)
}

// Contains reports whether q lies inside p or on its edge.
func (p Polygon) Contains(q Point) bool { return p.encloses(q) || p.distance(q) < onEdge }

// onEdge is the distance within which a point counts as on the curve, mm.
const onEdge = 1e-12

// encloses reports whether q lies inside p. For a point on the edge either may come out.
func (p Polygon) encloses(q Point) bool {
	x, y := q[0], q[1]
	in := false
	for a, b := range p.edges {
		if (a[1] > y) != (b[1] > y) && x < a[0]+(y-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}

// edges yields both ends of every edge, beginning with the edge that closes the curve.
func (p Polygon) edges(yield func(a, b Point) bool) {
	if len(p) == 0 {
		return
	}
	a := p[len(p)-1]
	for _, b := range p {
		if !yield(a, b) {
			return
		}
		a = b
	}
}

// EdgeDistance returns the distance from q to the curve, negative for q outside it, mm.
func (p Polygon) EdgeDistance(q Point) float64 {
	d := p.distance(q)
	if d < onEdge || p.encloses(q) {
		return d
	}
	return -d
}

// distance returns the distance from q to the curve, mm.
func (p Polygon) distance(q Point) float64 {
	x, y := q[0], q[1]
	best := math.Inf(1) // squared
	for a, b := range p.edges {
		dx, dy, ax, ay := b[0]-a[0], b[1]-a[1], x-a[0], y-a[1]
		t := 0.0
		if l := dx*dx + dy*dy; l > 0 {
			t = min(1, max(0, (dx*ax+dy*ay)/l))
		}
		ax, ay = ax-t*dx, ay-t*dy
		best = min(best, ax*ax+ay*ay)
	}
	return math.Sqrt(best)
}

// Reach returns the distance from the origin, which must lie inside p, to the
// farthest crossing of the curve in the direction of d, mm; 0 where d has no length.
func (p Polygon) Reach(d Point) float64 {
	l := math.Hypot(d[0], d[1])
	if l == 0 {
		return 0
	}
	x, y := d[0]/l, d[1]/l
	best := 0.0
	for a, b := range p.edges {
		dx, dy := b[0]-a[0], b[1]-a[1]
		det, t, along := x*dy-y*dx, a[0]*y-a[1]*x, a[0]*dy-a[1]*dx
		if det < 0 {
			det, t, along = -det, -t, -along
		}
		if det >= 1e-15 && t >= -1e-12*det && t <= (1+1e-12)*det {
			best = max(best, along/det)
		}
	}
	return best
}

// Hull returns the convex hull, counter-clockwise (Andrew's monotone chain,
// Information Processing Letters 9 (1979) 216-219).
func (p Polygon) Hull() Polygon {
	pts := slices.Clone(p)
	slices.SortFunc(pts, func(a, b Point) int { return slices.Compare(a[:], b[:]) })
	pts = slices.Compact(pts)
	if len(pts) < 3 {
		return pts
	}
	chain := func(pts Polygon) Polygon {
		var h Polygon
		for _, q := range pts {
			for len(h) >= 2 && cross(sub(h[len(h)-1], h[len(h)-2]), sub(q, h[len(h)-1])) <= 1e-12 {
				h = h[:len(h)-1]
			}
			h = append(h, q)
		}
		return h[:len(h)-1]
	}
	lower := chain(pts)
	slices.Reverse(pts)
	return append(lower, chain(pts)...)
}

// Kern returns the region round the centroid in which the resultant of a
// no-tension bed under a flat rigid platform must lie for the whole platform
// to carry load: for each edge line n·r = d of the convex hull its antipole
// -G·n/d, G being the second moments divided by the area. Its corners come in
// order, in p's own frame. A rectangle b × h gives the rhombus with
// semi-diagonals b/6 and h/6, an ellipse its copy at a quarter of the size
// (the kern, or middle third, of textbooks of structural mechanics).
func (p Polygon) Kern() Polygon {
	m := p.Moments()
	h := p.Hull()
	k := make(Polygon, 0, len(h))
	for i, a := range h {
		b := h[(i+1)%len(h)]
		l := math.Hypot(b[0]-a[0], b[1]-a[1])
		n := Point{(b[1] - a[1]) / l, (a[0] - b[0]) / l}
		d := dot(n, sub(a, m.Centroid))
		k = append(k, Point{
			m.Centroid[0] - (m.MM*n[0]+m.MO*n[1])/(m.Area*d),
			m.Centroid[1] - (m.MO*n[0]+m.OO*n[1])/(m.Area*d),
		})
	}
	return k
}

// crosses reports whether the segments ab and cd have a point in common.
func crosses(a, b, c, d Point) bool {
	s := func(p, q, r Point) float64 { return cross(sub(q, p), sub(r, p)) }
	d1, d2, d3, d4 := s(c, d, a), s(c, d, b), s(a, b, c), s(a, b, d)
	if ((d1 > 0 && d2 < 0) || (d1 < 0 && d2 > 0)) && ((d3 > 0 && d4 < 0) || (d3 < 0 && d4 > 0)) {
		return true
	}
	on := func(p, q, r Point, s float64) bool {
		return s == 0 && min(p[0], q[0]) <= r[0] && r[0] <= max(p[0], q[0]) && min(p[1], q[1]) <= r[1] && r[1] <= max(p[1], q[1])
	}
	return on(c, d, a, d1) || on(c, d, b, d2) || on(a, b, c, d3) || on(a, b, d, d4)
}

func sub(a, b Point) Point     { return Point{a[0] - b[0], a[1] - b[1]} }
func dot(a, b Point) float64   { return a[0]*b[0] + a[1]*b[1] }
func cross(a, b Point) float64 { return a[0]*b[1] - a[1]*b[0] }
