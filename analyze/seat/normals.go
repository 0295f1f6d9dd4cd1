package seat

import "math"

// normals holds the normal equations of shared parameters and gains, with the planes
// eliminated.
type normals struct {
	n int
	a []float64 // n × n, lower triangle
	b []float64
	// By map, for the steps of the planes: the Cholesky factor L, L⁻¹·(right side) and
	// L⁻¹·(coupling).
	l  []factor
	lb [][3]float64
	y  [][]float64 // 3 × n each
	ok []bool

	damped, x []float64 // buffers of step
}

// newNormals returns normals for a number of maps and of cells.
func newNormals(maps, cells int) *normals {
	n := shared + cells
	q := &normals{
		n: n, a: make([]float64, n*n), b: make([]float64, n),
		l: make([]factor, maps), lb: make([][3]float64, maps), y: make([][]float64, maps), ok: make([]bool, maps),
		damped: make([]float64, n*n), x: make([]float64, n),
	}
	for j := range q.y {
		q.y[j] = make([]float64, 3*n)
	}
	return q
}

// assemble computes the normal equations at s from the readings and derivatives d there.
func (p *problem) assemble(s *state, q *normals, d *jacobian) {
	clear(q.a)
	clear(q.b)
	for i := range shared {
		w := 1 / (p.sd[i] * p.sd[i])
		q.a[i*q.n+i] += w
		q.b[i] += w * (p.mean[i] - s.v[i])
	}
	for k := range s.gains {
		w := 1 / (p.gain * p.gain)
		i := shared + k
		q.a[i*q.n+i] += w
		q.b[i] += w * (p.gains[k] - s.gains[k])
	}
	for j := range p.maps {
		h, hb := p.addMap(j, s, q, d)
		q.eliminate(j, &h, hb)
	}
}

// addMap adds the cells of map j to q. It returns the normal equations of the map's plane,
// and leaves the plane's coupling to all other unknowns in q.y[j], row by row of the plane.
func (p *problem) addMap(j int, s *state, q *normals, d *jacobian) (h [3][3]float64, hb [3]float64) {
	var jt [shared]float64
	r, n, cells := &p.maps[j], q.n, len(s.gains)
	y := q.y[j]
	clear(y)
	for k := range cells {
		if math.IsInf(r.s[k], 1) {
			continue
		}
		is := 1 / (r.s[k] * p.scale)
		g := (1 + s.gains[k]) * is
		mk := d.m[j*cells+k]
		e := r.p[k]*is - g*mk
		_, w := loss(e)
		jx := d.plane[j*cells+k]
		for a := range jx {
			jx[a] *= g
		}
		jg := mk * is
		for i, v := range d.by[j*cells+k] {
			jt[i] = g * v
		}
		gi := shared + k
		for a := range 3 {
			wa := w * jx[a]
			if wa == 0 {
				continue
			}
			hb[a] += wa * e
			for c := range a + 1 {
				h[a][c] += wa * jx[c]
			}
			ya := y[a*n : (a+1)*n]
			for i, t := range jt {
				ya[i] += wa * t
			}
			ya[gi] += wa * jg
		}
		for i, t := range jt {
			if t == 0 {
				continue
			}
			wt := w * t
			q.b[i] += wt * e
			row := q.a[i*n:]
			for c := range i + 1 {
				row[c] += wt * jt[c]
			}
			q.a[gi*n+i] += wt * jg
		}
		q.b[gi] += w * jg * e
		q.a[gi*n+gi] += w * jg * jg
	}
	return h, hb
}

// eliminate removes the plane of map j from the normal equations: h and hb are its own
// equations, q.y[j] its coupling. A plane that is not determined stays as it is.
func (q *normals) eliminate(j int, h *[3][3]float64, hb [3]float64) {
	n, y := q.n, q.y[j]
	l, ok := factor3(h)
	q.ok[j] = ok
	if !ok {
		clear(y)
		return
	}
	q.l[j] = l
	lb := l.forward(hb)
	q.lb[j] = lb
	// y ← L⁻¹·coupling
	for c := range n {
		t := l.forward([3]float64{y[c], y[n+c], y[2*n+c]})
		y[c], y[n+c], y[2*n+c] = t[0], t[1], t[2]
	}
	y0, y1, y2 := y[:n], y[n:2*n], y[2*n:]
	for i := range n {
		q.b[i] -= y0[i]*lb[0] + y1[i]*lb[1] + y2[i]*lb[2]
		u0, u1, u2 := y0[i], y1[i], y2[i]
		if u0 == 0 && u1 == 0 && u2 == 0 {
			continue
		}
		row := q.a[i*n : i*n+i+1]
		for c := range row {
			row[c] -= u0*y0[c] + u1*y1[c] + u2*y2[c]
		}
	}
}

// step returns the damped step of shared parameters and gains, and the reduction of the
// objective that it would bring if the readings were linear. Frozen parameters do not
// move. ok is false where the damped equations are not positive definite.
func (q *normals) step(damping float64, frozen *[shared]bool) (x []float64, expected float64, ok bool) {
	n, l := q.n, q.damped
	copy(l, q.a)
	copy(q.x, q.b)
	for i := range shared {
		if !frozen[i] {
			l[i*n+i] *= 1 + damping
			continue
		}
		q.x[i] = 0
		for c := range n {
			if c < i {
				l[i*n+c] = 0
			} else if c > i {
				l[c*n+i] = 0
			}
		}
		l[i*n+i] = 1
	}
	if !cholesky(l, n) {
		return nil, 0, false
	}
	solve(l, n, q.x)
	for i, v := range q.x {
		expected += v * q.b[i]
		if i < shared && !frozen[i] {
			expected += damping * q.a[i*n+i] * v * v
		}
	}
	return q.x, expected, true
}

// after returns the state one step x after s, with the planes that follow. Parameters stop
// at their limits.
func (q *normals) after(s *state, x []float64) state {
	t := s.clone()
	for i := range shared {
		t.v[i] = min(most[i], max(lowest[i], s.v[i]+x[i]))
		x[i] = t.v[i] - s.v[i]
	}
	for k := range t.gains {
		t.gains[k] += x[shared+k]
	}
	for j := range t.planes {
		if !q.ok[j] {
			continue
		}
		b := q.lb[j]
		for a := range 3 {
			y := q.y[j][a*q.n : (a+1)*q.n]
			for c, v := range x {
				b[a] -= y[c] * v
			}
		}
		dx := q.l[j].back(b)
		for a := range 3 {
			t.planes[j][a] += dx[a]
		}
	}
	return t
}
