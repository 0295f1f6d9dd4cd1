package sim

import (
	"math"

	"aplomb/device/platform"
)

// plane is the function c + m·medial + o·over.
type plane struct{ c, m, o float64 }

func (p plane) at(q platform.Point) float64 { return p.c + p.m*q[0] + p.o*q[1] }

// moments are the integrals over a region of 1, medial, over and their
// products, about the origin: mm², mm³ and mm⁴.
type moments struct{ a, m, o, mm, mo, oo float64 }

// first returns the integrals of u, u·medial and u·over.
func (s *moments) first(u plane) (f [3]float64) {
	f[0] = u.c*s.a + u.m*s.m + u.o*s.o
	f[1] = u.c*s.m + u.m*s.mm + u.o*s.mo
	f[2] = u.c*s.o + u.m*s.mo + u.o*s.oo
	return f
}

// tile is a part of a platform over which the gap between the level platform and the level bed
// is approximated by a plane.
type tile struct {
	outline platform.Polygon
	centre  platform.Point
	radius  float64 // of the circle around the centre that contains the outline
	whole   moments
	gap     plane // mm
}

func newTile(outline platform.Polygon, d dome) tile {
	m := outline.Moments()
	c := m.Centroid
	t := tile{outline: outline, centre: c, gap: d.planeOver(m)}
	for _, q := range outline {
		t.radius = max(t.radius, math.Hypot(q[0]-c[0], q[1]-c[1]))
	}
	t.whole = moments{
		a: m.Area, m: m.Area * c[0], o: m.Area * c[1],
		mm: m.MM + m.Area*c[0]*c[0], mo: m.MO + m.Area*c[0]*c[1], oo: m.OO + m.Area*c[1]*c[1],
	}
	return t
}

// contact returns the moments of the part of the tile that the pose pushes into the bed, and
// its depth there, mm.
func (t *tile) contact(p Pose) (moments, plane) {
	u := plane{p.DepthMM - t.gap.c, p.TiltMedial - t.gap.m, p.TiltOver - t.gap.o}
	mid := u.at(t.centre)
	reach := t.radius * math.Sqrt(u.m*u.m+u.o*u.o)
	switch {
	case mid >= reach:
		return t.whole, u
	case mid <= -reach:
		return moments{}, u
	}
	return positivePart(t.outline, u), u
}

// positivePart returns the moments of the part of a counter-clockwise polygon where u is
// positive, by Green's theorem over the edges of the clipped polygon.
func positivePart(p platform.Polygon, u plane) (s moments) {
	var first, last platform.Point // of the clipped polygon so far
	open := false
	a := p[len(p)-1]
	ua := u.at(a)
	for _, b := range p {
		ub := u.at(b)
		if (ua > 0) != (ub > 0) {
			f := ua / (ua - ub)
			q := platform.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}
			if !open {
				first, open = q, true
			} else {
				s.edge(last, q)
			}
			last = q
		}
		if ub > 0 {
			if !open {
				first, open = b, true
			} else {
				s.edge(last, b)
			}
			last = b
		}
		a, ua = b, ub
	}
	if open {
		s.edge(last, first)
	}
	return s
}

// edge adds the moments of the triangle between the origin and the edge from p to q.
func (s *moments) edge(p, q platform.Point) {
	c := (p[0]*q[1] - p[1]*q[0]) / 24
	s.a += 12 * c
	s.m += 4 * c * (p[0] + q[0])
	s.o += 4 * c * (p[1] + q[1])
	s.mm += 2 * c * (p[0]*p[0] + p[0]*q[0] + q[0]*q[0])
	s.oo += 2 * c * (p[1]*p[1] + p[1]*q[1] + q[1]*q[1])
	s.mo += c * (p[0]*q[1] + 2*p[0]*p[1] + 2*q[0]*q[1] + q[0]*p[1])
}
