package seat

import (
	"math"

	"aplomb/device"
	"aplomb/device/platform"
)

// sub is the number of integration points along each side of a cell.
const sub = 8

// grid is the set of points at which pressure is evaluated, in the strip's own axes
// (origin at its centre, mm). It reaches beyond the strip, because a platform bears load
// there too, and part of that pressure spreads onto the strip.
type grid struct {
	rows, cols int
	x, y       []float64 // coordinates of the points along the strip's columns and rows, mm
	dx, dy     float64   // their spacing, mm
	pitch      [2]float64
	row        []float64 // buffer: sums over one row of points, by column
	sums       []sums    // buffer, likewise
}

// rimMM is how far the grid reaches beyond the strip on each side. CoP.BeyondN does not
// include load farther out.
const rimMM = 5.0

func newGrid(s *device.Strip) *grid {
	g := &grid{
		rows: s.Rows, cols: s.Cols, pitch: s.PitchMM,
		dx: s.PitchMM[0] / sub, dy: s.PitchMM[1] / sub,
		row: make([]float64, 4*s.Cols), sums: make([]sums, s.Cols),
	}
	axis := func(cells int, d float64) []float64 {
		n := cells*sub + 2*int(math.Ceil(rimMM/d))
		at := make([]float64, n)
		for i := range at {
			at[i] = (float64(i) - float64(n-1)/2) * d
		}
		return at
	}
	g.x, g.y = axis(s.Cols, g.dx), axis(s.Rows, g.dy)
	return g
}

// share holds the weights with which the pressure at one point is divided among cells
// first to first+n-1 along one axis.
type share struct {
	first, n int
	w        [maxShare]float64
}

// sum returns the sum of the weights, which is below 1 where part of the pressure falls
// beside the strip.
func (s *share) sum() float64 {
	sum := 0.0
	for _, w := range s.w[:s.n] {
		sum += w
	}
	return sum
}

// maxShare is the largest number of cells among which one point is divided along an axis.
const maxShare = 6

// shares returns the weights of points at coordinates at, mm, when pressure spreads with
// the standard deviation sigma, mm. A point stands for an interval of length d, mm, which
// is convolved with a Gaussian and integrated over each cell.
func shares(list []share, at []float64, cells int, pitch, d, sigma float64) []share {
	list = list[:0]
	edge := func(c int) float64 { return (float64(c) - float64(cells)/2) * pitch }
	// The integral of the normal distribution function.
	ramp := func(t float64) float64 {
		if sigma < 1e-3 {
			return max(0, t)
		}
		z := t / sigma
		if z > 6 {
			return t
		}
		if z < -6 {
			return 0
		}
		return t*0.5*math.Erfc(-z/math.Sqrt2) + sigma*math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
	}
	// below is the part of the interval about a that lies below e.
	below := func(a, e float64) float64 { return (ramp(e-a+d/2) - ramp(e-a-d/2)) / d }
	for _, a := range at {
		var s share
		last := below(a, edge(0))
		for c := range cells {
			next := below(a, edge(c+1))
			w := next - last
			last = next
			if w < 1e-5 {
				if s.n > 0 {
					break
				}
				continue
			}
			if s.n == 0 {
				s.first = c
			}
			if s.n < maxShare {
				s.w[s.n] = w
				s.n++
			}
		}
		list = append(list, s)
	}
	return list
}

// pose is the position of the strip's centre relative to the platform's centroid, mm, and
// the strip's rotation from +medial towards +over, rad.
type pose struct{ medial, over, turn float64 }

func (p pose) turned() turned {
	sin, cos := math.Sincos(p.turn)
	return turned{p.medial, p.over, sin, cos}
}

// turned is a pose with the sine and the cosine of its rotation.
type turned struct{ medial, over, sin, cos float64 }

// at returns where the point (x, y) of a grid lies relative to the platform's centroid, mm.
func (p *turned) at(x, y float64) platform.Point {
	return platform.Point{p.medial - p.sin*y + p.cos*x, p.over + p.cos*y + p.sin*x}
}

// site holds, for the points of a grid in one pose of the strip, where they lie relative
// to the platform's outline.
type site struct {
	edges  []edge
	mm, oo []float64 // squares of medial and over, in units of the half-axes
	span   [][2]int  // by row of points: index of the first that can lie inside the outline, and one past the last
}

func newSite(g *grid) *site {
	n := len(g.x) * len(g.y)
	return &site{edges: make([]edge, n), mm: make([]float64, n), oo: make([]float64, n), span: make([][2]int, len(g.y))}
}

// place computes t for the pose p.
func (t *site) place(g *grid, s *shape, p pose) {
	turned := p.turned()
	nx := len(g.x)
	for j, y := range g.y {
		first, end := nx, 0
		for i, x := range g.x {
			k := j*nx + i
			q := turned.at(x, y)
			e := s.at(q[0], q[1])
			t.edges[k] = e
			t.mm[k], t.oo[k] = s.squares(q)
			if e.inside > -maxGrowth {
				first, end = min(first, i), i+1
			}
		}
		t.span[j] = [2]int{first, end}
	}
}

// maxGrowth bounds the growth of an outline during a fit, including the spacing of the
// points, mm.
const maxGrowth = 4

// relief holds the parameters of the platform's surface: its outline's growth, curvature
// and edge radii.
type relief struct {
	growWidth, growDepth    float64 // of half-width and half-depth, mm
	domeMedial, domeOver    float64 // recess at the end of the half-axis, mm
	frontRadius, backRadius float64 // mm
}

// inside returns the distance of a point inside the grown outline, mm; negative outside
// it.
func (v *relief) inside(e *edge) float64 {
	return e.inside + e.perWidth*v.growWidth + e.perDepth*v.growDepth
}

// radius returns the radius of the rounded edge nearest to a point, mm.
func (v *relief) radius(e *edge) float64 {
	return v.backRadius + (v.frontRadius-v.backRadius)*facing(e.front)
}

// dome returns the recess of the curved surface, mm, at a point with squares mm and oo, see
// shape.squares.
func (v *relief) dome(mm, oo float64) float64 { return v.domeMedial*mm + v.domeOver*oo }

// layer holds samples of a platform's surface, row by row of points.
type layer struct {
	samples []sample
	changes []change // derivatives of the samples; empty where they are not needed
	rows    []int    // by row of points: index of its first sample; the last entry is the number of samples
}

// sample describes the surface in part of the square around one point.
type sample struct {
	column int     // index of the point in its row
	cover  float64 // area inside the outline ÷ area of the square
	recess float64 // behind a level plane, mm
}

func newLayer(g *grid) *layer {
	return &layer{rows: make([]int, len(g.y)+1)}
}

// edgeSamples is the number of samples across the edge into which a point near it is
// divided: a rounded edge recedes within less than the spacing of the points.
const edgeSamples = 3

// lay samples the surface v at a site, and computes the derivatives of the samples unless
// near is nil.
func (l *layer) lay(g *grid, t *site, v relief, near *neighbours) {
	nx := len(g.x)
	l.samples, l.changes = l.samples[:0], l.changes[:0]
	var point change
	for j, y := range g.y {
		l.rows[j] = len(l.samples)
		for i := t.span[j][0]; i < t.span[j][1]; i++ {
			k := j*nx + i
			e := &t.edges[k]
			inside := v.inside(e)
			if inside < -g.dx/2 {
				continue
			}
			dome, radius := v.dome(t.mm[k], t.oo[k]), v.radius(e)
			if near != nil {
				point = near.doming(platform.Point{g.x[i], y}, t.mm[k], t.oo[k], &v)
			}
			if inside > radius+g.dx/2 {
				l.samples = append(l.samples, sample{i, 1, dome})
				if near != nil {
					l.changes = append(l.changes, point)
				}
				continue
			}
			var radii [onSurface]float64
			if near != nil {
				radii = near.edging(platform.Point{g.x[i], y}, e, &v, &point)
			}
			w := g.dx / edgeSamples
			for q := range edgeSamples {
				d := inside + (float64(q)-(edgeSamples-1)/2.)*w
				// The slice may straddle the outline.
				cover := min(1, 0.5+d/w)
				if cover <= 0 {
					continue
				}
				l.samples = append(l.samples, sample{i, cover / edgeSamples, dome + round(d, radius)})
				if near != nil {
					c := point
					c.edge(d, w, radius, &radii)
					l.changes = append(l.changes, c)
				}
			}
		}
	}
	l.rows[len(g.y)] = len(l.samples)
}

// ground describes the bed under the strip: its stiffness, and the weights with which
// pressure spreads to the cells.
type ground struct {
	stiffness float64 // kPa/mm
	curve     float64 // parameter of its stiffening, see answer, 1/kPa
	sx, sy    []share
}

func (b *ground) set(g *grid, stiffness, curve, sigma float64) {
	b.curve = curve
	b.stiffness = stiffness
	b.sx = shares(b.sx, g.x, g.cols, g.pitch[0], g.dx, sigma)
	b.sy = shares(b.sy, g.y, g.rows, g.pitch[1], g.dy, sigma)
}

// facing returns the weight of the front radius, 0 to 1, in the radius of the edge at a
// point. t is the direction of the outline's normal, 0 for back and 1 for front; the
// weight is a cubic with zero slope at both ends.
func facing(t float64) float64 { return t * t * (3 - 2*t) }

// round returns the recess, mm, of an edge rounded by a circular arc of radius r, at the
// given distance inside the outline. Outside the outline it is that at the outline.
func round(inside, r float64) float64 {
	t := r - max(0, inside)
	if t <= 0 {
		return 0
	}
	return r - math.Sqrt(max(0, r*r-t*t))
}

// plane is the pressure under a platform without recess: p[0] + p[1]·x + p[2]·y in the
// strip's axes, kPa, kPa/mm and kPa/mm.
type plane [3]float64

// read sets m to the modelled readings of the cells, kPa, row by row from the back, and,
// unless slope is nil, slope to their derivatives with respect to the plane.
func (g *grid) read(l *layer, b *ground, p plane, m []float64, slope []plane) {
	clear(m)
	clear(slope)
	cols := g.cols
	r0, r1, r2, r3 := g.row[:cols], g.row[cols:2*cols], g.row[2*cols:3*cols], g.row[3*cols:4*cols]
	stiffness, curve := b.stiffness, b.curve
	for j, y := range g.y {
		samples := l.samples[l.rows[j]:l.rows[j+1]]
		if len(samples) == 0 {
			continue
		}
		clear(g.row)
		base := p[0] + p[2]*y
		loaded := false
		for i := range samples {
			a := &samples[i]
			x := g.x[a.column]
			f := base + p[1]*x - stiffness*a.recess
			if f <= 0 {
				continue
			}
			loaded = true
			c := a.cover
			growth := 1.0
			if curve > 0 {
				f, growth = answer(f, curve)
			}
			v := c * f
			s := &b.sx[a.column]
			if slope == nil {
				to := r0[s.first : s.first+s.n]
				for q, w := range s.w[:s.n] {
					to[q] += v * w
				}
				continue
			}
			c *= growth
			for q := range s.n {
				w := s.w[q]
				k := s.first + q
				r0[k] += v * w
				r1[k] += c * w
				r2[k] += c * x * w
			}
		}
		if !loaded {
			continue
		}
		if slope != nil {
			for k := range r3 {
				r3[k] = r1[k] * y
			}
		}
		s := &b.sy[j]
		for q := range s.n {
			w := s.w[q] / (sub * sub)
			at := (s.first + q) * cols
			for k := range cols {
				m[at+k] += w * r0[k]
			}
			if slope != nil {
				for k := range cols {
					d := &slope[at+k]
					d[0] += w * r1[k]
					d[1] += w * r2[k]
					d[2] += w * r3[k]
				}
			}
		}
	}
}

// answer returns the pressure of a stiffening bed at the depth at which a linear bed of
// the same initial stiffness has f kPa, and its derivative with respect to f. The
// pressure is f/(1-curve·f), that of gas in closed cells compressed at constant
// temperature (Boyle's law), with 1/curve = initial stiffness × thickness. It continues
// linearly below leastThickness.
func answer(f, curve float64) (p, growth float64) {
	const least = leastThickness
	left := 1 - curve*f
	if left > least {
		return f / left, 1 / (left * left)
	}
	top := (1 - least) / curve
	growth = 1 / (least * least)
	return top/least + growth*(f-top), growth
}

// leastThickness is the part of a bed's thickness below which its stiffness stays
// constant.
const leastThickness = 0.1

// stiffening returns the derivative of answer's pressure with respect to curve.
func stiffening(f, curve float64) float64 {
	const least = leastThickness
	if left := 1 - curve*f; left > least {
		return f * f / (left * left)
	}
	return (1 - least) / (curve * curve) * (1/(least*least) - 1/least)
}
