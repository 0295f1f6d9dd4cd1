package seat

import (
	"math"

	"aplomb/device/platform"
)

// shape gives, for any point near an outline, how far inside the outline it lies and how
// that changes when the outline grows. It is a table with linear interpolation, because
// the fit needs thousands of points at every step.
type shape struct {
	lo         platform.Point // of the table's first node, mm
	cols, rows int
	nodes      []edge
	half       platform.Point // half the outline's extent along medial and over, mm
}

// edge describes the outline as seen from one point.
type edge struct {
	inside float64 // distance to the outline, negative outside it, mm
	// perWidth and perDepth are the derivatives of inside with respect to the growth of
	// half-width and half-depth, when the outline is scaled about its centroid.
	perWidth, perDepth float64
	front              float64 // 0 where the outline faces back, 1 where it faces front
}

const (
	nodeMM = 0.5 // spacing of the table
	brimMM = 5.0 // how far beyond the outline the table reaches
)

func newShape(outline platform.Polygon) *shape {
	lo, hi := outline.Bounds()
	s := &shape{
		lo:   platform.Point{lo[0] - brimMM, lo[1] - brimMM},
		cols: int(math.Ceil((hi[0]-lo[0]+2*brimMM)/nodeMM)) + 1,
		rows: int(math.Ceil((hi[1]-lo[1]+2*brimMM)/nodeMM)) + 1,
		half: platform.Point{(hi[0] - lo[0]) / 2, (hi[1] - lo[1]) / 2},
	}
	s.nodes = make([]edge, s.cols*s.rows)
	for j := range s.rows {
		near := math.Inf(1)
		for i := range s.cols {
			at := platform.Point{s.lo[0] + nodeMM*float64(i), s.lo[1] + nodeMM*float64(j)}
			e := s.exact(outline, at, near)
			s.nodes[j*s.cols+i] = e
			near = math.Abs(e.inside) + 1.01*nodeMM
		}
	}
	return s
}

// grown returns the outline with its half-width and half-depth increased by wide and
// deep, mm.
func (s *shape) grown(outline platform.Polygon, wide, deep float64) platform.Polygon {
	q := make(platform.Polygon, len(outline))
	for i, p := range outline {
		q[i] = platform.Point{p[0] * (1 + wide/s.half[0]), p[1] * (1 + deep/s.half[1])}
	}
	return q
}

// exact computes an edge from the nearest point of the outline, which is at most near mm
// away.
func (s *shape) exact(outline platform.Polygon, at platform.Point, near float64) edge {
	best, odd := near*near, false // squared distance; whether a ray from the point crosses the outline an odd number of times
	var nearest, normal platform.Point
	a := outline[len(outline)-1]
	for _, b := range outline {
		if (a[1] > at[1]) != (b[1] > at[1]) && at[0] < a[0]+(at[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			odd = !odd
		}
		if min(a[0], b[0])-at[0] > near || at[0]-max(a[0], b[0]) > near || min(a[1], b[1])-at[1] > near || at[1]-max(a[1], b[1]) > near {
			a = b
			continue
		}
		dx, dy := b[0]-a[0], b[1]-a[1]
		l2 := dx*dx + dy*dy
		t := min(1, max(0, ((at[0]-a[0])*dx+(at[1]-a[1])*dy)/l2))
		q := platform.Point{a[0] + t*dx, a[1] + t*dy}
		if d := (at[0]-q[0])*(at[0]-q[0]) + (at[1]-q[1])*(at[1]-q[1]); d < best {
			best, nearest, normal = d, q, platform.Point{dy, -dx} // outward of a counter-clockwise curve
		}
		a = b
	}
	l := math.Hypot(normal[0], normal[1])
	normal[0], normal[1] = normal[0]/l, normal[1]/l
	e := edge{inside: math.Sqrt(best)}
	sign := -1.0
	if odd {
		sign = 1
	}
	if e.inside > 0.05 { // closer to the outline the direction of the difference is not accurate
		normal = platform.Point{sign * (nearest[0] - at[0]) / e.inside, sign * (nearest[1] - at[1]) / e.inside}
	}
	e.inside *= sign
	e.perWidth = normal[0] * nearest[0] / s.half[0]
	e.perDepth = normal[1] * nearest[1] / s.half[1]
	e.front = (1 + normal[1]) / 2
	return e
}

// squares returns the squares of medial and over of a point relative to the platform's
// centroid, in units of the half-axes.
func (s *shape) squares(p platform.Point) (mm, oo float64) {
	a, b := 1/s.half[0], 1/s.half[1]
	return p[0] * p[0] * a * a, p[1] * p[1] * b * b
}

// at returns the edge for the point (x, y), mm; outside the table, that of its border.
func (s *shape) at(x, y float64) edge {
	u := min(float64(s.cols)-1.001, max(0, (x-s.lo[0])/nodeMM))
	v := min(float64(s.rows)-1.001, max(0, (y-s.lo[1])/nodeMM))
	i, j := int(u), int(v)
	u, v = u-float64(i), v-float64(j)
	k := j*s.cols + i
	a, b, c, d := &s.nodes[k], &s.nodes[k+1], &s.nodes[k+s.cols], &s.nodes[k+s.cols+1]
	wa, wb, wc, wd := (1-u)*(1-v), u*(1-v), (1-u)*v, u*v
	return edge{
		inside:   wa*a.inside + wb*b.inside + wc*c.inside + wd*d.inside,
		perWidth: wa*a.perWidth + wb*b.perWidth + wc*c.perWidth + wd*d.perWidth,
		perDepth: wa*a.perDepth + wb*b.perDepth + wc*c.perDepth + wd*d.perDepth,
		front:    wa*a.front + wb*b.front + wc*c.front + wd*d.front,
	}
}
