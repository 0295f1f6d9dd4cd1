package seat

import (
	"math"

	"aplomb/device/platform"
)

// onSurface is the number of shared parameters that change the platform's surface above
// the strip. They precede all others.
const onSurface = pressBed

// jacobian holds the modelled readings of all cells and their derivatives, map by map.
type jacobian struct {
	m     []float64 // kPa
	plane []plane   // with respect to the plane of the cell's map
	by    []vector  // with respect to the shared parameters
}

// room makes j large enough for n readings.
func (j *jacobian) room(n int) {
	if len(j.m) != n {
		*j = jacobian{make([]float64, n), make([]plane, n), make([]vector, n)}
	}
}

// slopes computes readings and derivatives at s. The scene must have been computed.
func (p *problem) slopes(s *state) *jacobian {
	cells := len(s.gains)
	j := &p.jacobian
	j.room(len(p.maps) * cells)
	p.at.layer.lay(p.grid, p.at.site, s.v.relief(), newNeighbours(p.shape, s.v.pose()))
	bed, spread := pressBed, pressSpread
	if p.kind == Hold {
		bed, spread = holdBed, holdSpread
	}
	v, h := s.v, step[spread]
	if v[spread]+h > most[spread] {
		h = -h
	}
	v[spread] += h
	v.lay(&p.moved.ground, p.kind, p.grid)
	to := make([]float64, cells)
	for i := range p.maps {
		m, by := j.m[i*cells:(i+1)*cells], j.by[i*cells:(i+1)*cells]
		p.grid.differentiate(p.at.layer, &p.at.ground, s.planes[i], m, j.plane[i*cells:(i+1)*cells], by, bed)
		p.grid.read(p.at.layer, &p.moved.ground, s.planes[i], to, nil)
		for k := range to {
			by[k][spread] = (to[k] - m[k]) / h
		}
	}
	return j
}

// secants computes the readings at s, and their differences for a step of each shared
// parameter, per unit of the parameter. The scene must have been computed.
func (p *problem) secants(s *state, steps *vector) *jacobian {
	cells := len(s.gains)
	j := &p.jacobian
	j.room(len(p.maps) * cells)
	clear(j.by)
	for i := range p.maps {
		p.read(s.planes[i], j.m[i*cells:(i+1)*cells], j.plane[i*cells:(i+1)*cells])
	}
	to := make([]float64, cells)
	for t := range shared {
		if !concerns(t, p.kind) {
			continue
		}
		v, h := s.v, steps[t]
		if v[t]+h > most[t] {
			h = -h
		}
		v[t] += h
		layer, ground := p.shift(&v, t)
		for i := range p.maps {
			p.grid.read(layer, ground, s.planes[i], to, nil)
			for k := range to {
				j.by[i*cells+k][t] = (to[k] - j.m[i*cells+k]) / h
			}
		}
	}
	return j
}

// change holds the derivatives of a sample with respect to the parameters of the surface.
type change struct {
	recess [onSurface]float64
	cover  float64             // derivative of cover with respect to inside, 1/mm; 0 unless the outline cuts the sample
	inside [domeMedial]float64 // derivatives of the distance inside the outline; later parameters do not change it
}

// neighbours holds the poses one step of medial, over and turn away from the current one.
type neighbours struct {
	shape *shape
	poses [3]turned
}

func newNeighbours(s *shape, at pose) *neighbours {
	return &neighbours{s, [3]turned{
		pose{at.medial + step[medial], at.over, at.turn}.turned(),
		pose{at.medial, at.over + step[over], at.turn}.turned(),
		pose{at.medial, at.over, at.turn + step[turn]}.turned(),
	}}
}

// doming returns the derivatives of all samples of the point p of a grid on a surface, if
// no edge is near. mm and oo are its squares in the current pose, see shape.squares.
func (n *neighbours) doming(p platform.Point, mm, oo float64, v *relief) (c change) {
	dome := v.dome(mm, oo)
	for i := range n.poses {
		c.recess[i] = (v.dome(n.shape.squares(n.poses[i].at(p[0], p[1]))) - dome) / step[i]
	}
	c.recess[domeMedial], c.recess[domeOver] = mm, oo
	return c
}

// edging sets in c the derivatives of the distance inside the outline of the point p of a
// grid, which has the edge e in the current pose. It returns those of the edge's radius.
func (n *neighbours) edging(p platform.Point, e *edge, v *relief, c *change) (radius [onSurface]float64) {
	inside, r := v.inside(e), v.radius(e)
	for i := range n.poses {
		q := n.poses[i].at(p[0], p[1])
		u := n.shape.at(q[0], q[1])
		c.inside[i] = (v.inside(&u) - inside) / step[i]
		radius[i] = (v.radius(&u) - r) / step[i]
	}
	c.inside[width], c.inside[depth] = e.perWidth, e.perDepth
	front := facing(e.front)
	radius[frontRadius], radius[backRadius] = front, 1-front
	return radius
}

// edge adds the contribution of a rounded edge of radius r to a sample of width w at the
// distance d inside the outline, mm.
func (c *change) edge(d, w, r float64, radius *[onSurface]float64) {
	// The mean over the sample, because the slope of an arc is infinite at its end.
	deeper := (round(d+w/2, r) - round(d-w/2, r)) / w
	larger := (round(d, r+step[frontRadius]) - round(d, r)) / step[frontRadius]
	for i, v := range c.inside {
		c.recess[i] += deeper * v
	}
	for i, v := range radius {
		c.recess[i] += larger * v
	}
	if math.Abs(d) < w/2 {
		c.cover = 1 / (w * edgeSamples)
	}
}

// sums accumulates the points of one row over one column of cells, for read and
// differentiate.
type sums struct {
	m, base, x float64
	bed, curve float64
	by         [onSurface]float64
}

// differentiate sets m to the modelled readings of the cells, and slope and by to their
// derivatives with respect to the plane and to the shared parameters other than the
// spread. bed is the index of the bed's stiffness.
func (g *grid) differentiate(l *layer, b *ground, p plane, m []float64, slope []plane, by []vector, bed int) {
	clear(m)
	clear(slope)
	clear(by)
	for j, y := range g.y {
		from, end := l.rows[j], l.rows[j+1]
		base := p[0] + p[2]*y
		loaded := false
		for i := from; i < end; i++ {
			a := &l.samples[i]
			x := g.x[a.column]
			f := base + p[1]*x - b.stiffness*a.recess
			if f <= 0 {
				continue
			}
			if !loaded {
				loaded = true
				clear(g.sums)
			}
			growth, curving := 1.0, f*f
			if b.curve > 0 {
				curving = stiffening(f, b.curve)
				f, growth = answer(f, b.curve)
			}
			c := a.cover * growth
			change := &l.changes[i]
			at := sums{m: a.cover * f, base: c, x: c * x, bed: -c * b.stiffness * a.recess, curve: a.cover * curving}
			for t, v := range change.recess {
				at.by[t] = -c * b.stiffness * v
			}
			if change.cover > 0 {
				for t, v := range change.inside {
					at.by[t] += f * change.cover * v
				}
			}
			s := &b.sx[a.column]
			for q := range s.n {
				g.sums[s.first+q].add(&at, s.w[q])
			}
		}
		if !loaded {
			continue
		}
		s := &b.sy[j]
		for q := range s.n {
			w := s.w[q] / (sub * sub)
			row := (s.first + q) * g.cols
			for c := range g.sums {
				at, k := &g.sums[c], row+c
				m[k] += w * at.m
				slope[k][0] += w * at.base
				slope[k][1] += w * at.x
				slope[k][2] += w * at.base * y
				by[k][bed] += w * at.bed
				if bed == pressBed {
					by[k][pressCurve] += w * at.curve
				}
				for t, v := range at.by {
					by[k][t] += w * v
				}
			}
		}
	}
}

func (s *sums) add(a *sums, w float64) {
	s.m += w * a.m
	s.base += w * a.base
	s.x += w * a.x
	s.bed += w * a.bed
	s.curve += w * a.curve
	for t, v := range a.by {
		s.by[t] += w * v
	}
}
