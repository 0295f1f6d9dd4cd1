package seat

import (
	"math"
)

// Indices of the parameters that all maps of a mounting share.
const (
	medial      = iota // of the strip's centre, mm
	over               // mm
	turn               // rotation, rad
	width              // growth of the half-width, mm
	depth              // growth of the half-depth, mm
	domeMedial         // recess at the end of the half-axis along medial, mm
	domeOver           // and along over, mm
	frontRadius        // mm
	backRadius         // mm
	pressBed           // ln of the stiffness under presses in kPa/mm
	holdBed            // and under holds
	pressSpread        // variance of the spread of pressure under presses, mm²
	holdSpread         // and under holds, mm²
	pressCurve         // stiffening of the pad, 1/kPa
	shared             // number of shared parameters
)

// vector is a value for each shared parameter.
type vector [shared]float64

// step is the difference from which a derivative is computed; lowest and most are the
// bounds of the parameters.
var (
	step   = vector{0.03, 0.03, 0.002, 0.03, 0.03, 0.01, 0.01, 0.05, 0.05, 0.02, 0.02, 0.05, 0.05, 1e-6}
	lowest = vector{-40, -40, -0.6, -5, -5, 0, 0, 0, 0, -20, -20, 0, 0, 0}
	most   = vector{40, 40, 0.6, 5, 5, 2, 2, 8, 8, 20, 20, 16, 16, 0.02}
)

func (v *vector) pose() pose { return pose{v[medial], v[over], v[turn]} }

func (v *vector) relief() relief {
	return relief{v[width], v[depth], v[domeMedial], v[domeOver], v[frontRadius], v[backRadius]}
}

// lay sets g to the bed under the strip during a kind of map.
func (v *vector) lay(g *ground, k Kind, on *grid) {
	if k == Press {
		g.set(on, math.Exp(v[pressBed]), v[pressCurve], math.Sqrt(max(0, v[pressSpread])))
		return
	}
	g.set(on, math.Exp(v[holdBed]), 0, math.Sqrt(max(0, v[holdSpread])))
}

// concerns reports whether a parameter changes the readings of a kind of map.
func concerns(parameter int, k Kind) bool {
	switch parameter {
	case pressBed, pressSpread, pressCurve:
		return k == Press
	case holdBed, holdSpread:
		return k == Hold
	}
	return true
}

// problem is the fit of the maps of one kind, with its buffers.
type problem struct {
	kind  Kind
	grid  *grid
	shape *shape
	maps  []reading
	mean  vector // of the prior
	sd    vector
	gains []float64 // of the prior, relative, per cell
	gain  float64   // their standard deviation
	scale float64   // by which the standard deviations of the readings are multiplied

	at, moved scene    // at the current state, and one step away from it
	jacobian  jacobian // buffer
}

// scene is the platform on the strip under one set of parameters.
type scene struct {
	site   *site
	layer  *layer
	ground ground
}

func newScene(g *grid) scene { return scene{site: newSite(g), layer: newLayer(g)} }

// scenes allocates the scenes of a problem.
func (p *problem) scenes() {
	p.at, p.moved = newScene(p.grid), newScene(p.grid)
}

// state holds the current values of all unknowns of a fit.
type state struct {
	v      vector
	gains  []float64 // relative, per cell
	planes []plane
}

func (s *state) clone() state {
	return state{s.v, append([]float64(nil), s.gains...), append([]plane(nil), s.planes...)}
}

// lay computes the scene with shared parameters v.
func (p *problem) lay(v *vector) {
	p.at.site.place(p.grid, p.shape, v.pose())
	p.at.layer.lay(p.grid, p.at.site, v.relief(), nil)
	v.lay(&p.at.ground, p.kind, p.grid)
}

// shift computes the scene with shared parameters v, which differ in one parameter from
// those of the last call of lay. It reuses what that parameter does not change.
func (p *problem) shift(v *vector, parameter int) (*layer, *ground) {
	at, moved := &p.at, &p.moved
	switch parameter {
	case medial, over, turn:
		moved.site.place(p.grid, p.shape, v.pose())
		moved.layer.lay(p.grid, moved.site, v.relief(), nil)
		return moved.layer, &at.ground
	case pressBed, holdBed, pressSpread, holdSpread, pressCurve:
		v.lay(&moved.ground, p.kind, p.grid)
		return at.layer, &moved.ground
	}
	moved.layer.lay(p.grid, at.site, v.relief(), nil)
	return moved.layer, &at.ground
}

// huber is the number of standard deviations above which a residual contributes linearly,
// and no longer quadratically, to the objective.
const huber = 3

// loss returns Huber's loss of a residual of r standard deviations, and the weight of its
// square in the normal equations.
func loss(r float64) (add, weight float64) {
	a := math.Abs(r)
	if a <= huber {
		return r * r, 1
	}
	return huber * (2*a - huber), huber / a
}

func (p *problem) read(at plane, m []float64, slope []plane) {
	p.grid.read(p.at.layer, &p.at.ground, at, m, slope)
}

// cost returns the objective at s. The scene must have been computed; m is a buffer.
func (p *problem) cost(s *state, m []float64) float64 {
	sum := 0.0
	for i, v := range s.v {
		d := (v - p.mean[i]) / p.sd[i]
		sum += d * d
	}
	for k, g := range s.gains {
		d := (g - p.gains[k]) / p.gain
		sum += d * d
	}
	for j := range p.maps {
		r := &p.maps[j]
		p.read(s.planes[j], m, nil)
		for k := range m {
			add, _ := loss((r.p[k] - (1+s.gains[k])*m[k]) / (r.s[k] * p.scale))
			sum += add
		}
	}
	return sum
}

// settle moves every plane by one Gauss-Newton step, with all other unknowns fixed.
func (p *problem) settle(s *state, m []float64, slope []plane) {
	for j := range p.maps {
		r := &p.maps[j]
		p.read(s.planes[j], m, slope)
		var h [3][3]float64
		var b [3]float64
		for k := range m {
			is := 1 / (r.s[k] * p.scale)
			g := (1 + s.gains[k]) * is
			e := r.p[k]*is - g*m[k]
			_, w := loss(e)
			for a := range 3 {
				ja := g * slope[k][a] * w
				b[a] += ja * e
				for c := range a + 1 {
					h[a][c] += ja * g * slope[k][c]
				}
			}
		}
		if l, ok := factor3(&h); ok {
			x := l.back(l.forward(b))
			for a := range 3 {
				s.planes[j][a] += x[a]
			}
		}
	}
}

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
}

// assemble computes the normal equations at s from the readings and derivatives d there.
func (p *problem) assemble(s *state, q *normals, d *jacobian) {
	cells := len(s.gains)
	n := shared + cells
	if q.a == nil {
		*q = normals{n: n, a: make([]float64, n*n), b: make([]float64, n),
			l: make([]factor, len(p.maps)), lb: make([][3]float64, len(p.maps)), y: make([][]float64, len(p.maps)), ok: make([]bool, len(p.maps))}
		for j := range q.y {
			q.y[j] = make([]float64, 3*n)
		}
	}
	clear(q.a)
	clear(q.b)
	for i := range shared {
		w := 1 / (p.sd[i] * p.sd[i])
		q.a[i*n+i] += w
		q.b[i] += w * (p.mean[i] - s.v[i])
	}
	for k := range cells {
		w := 1 / (p.gain * p.gain)
		i := shared + k
		q.a[i*n+i] += w
		q.b[i] += w * (p.gains[k] - s.gains[k])
	}

	var jt [shared]float64
	for j := range p.maps {
		r := &p.maps[j]
		var h [3][3]float64
		var hb [3]float64
		y := q.y[j] // first the coupling, row by row of the plane
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
		l, ok := factor3(&h)
		q.ok[j] = ok
		if !ok {
			clear(y)
			continue
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
}

// minimise improves s in place until a step reduces the objective by less than the
// relative amount least.
//
// It solves a least-squares problem whose variables separate (Golub & Pereyra, The
// differentiation of pseudo-inverses and nonlinear least squares problems whose variables
// separate, SIAM J. Numer. Anal. (1973), Stanford report CS-TR-72-261) with the planes as
// the inner variables, by damped steps (Marquardt, J. SIAM 11 (1963) 431-441). The
// damping follows the ratio of actual to predicted reduction (H. B. Nielsen, Damping
// parameter in Marquardt's method, Technical University of Denmark, report
// IMM-REP-1999-05 (1999), with 1/8 instead of his smallest factor of 1/3).
func (p *problem) minimise(s *state, least float64) {
	cells := len(s.gains)
	m := make([]float64, cells)
	slope := make([]plane, cells)
	p.lay(&s.v)
	for range 4 {
		p.settle(s, m, slope)
	}
	at := p.cost(s, m)
	q := &normals{}
	p.assemble(s, q, p.slopes(s))
	damping, growth := 1e-2, 2.0
	l := make([]float64, q.n*q.n)
	x := make([]float64, q.n)
	for range mostSteps {
		frozen := p.frozen(s, q)
		copy(l, q.a)
		for i := range shared {
			if frozen[i] {
				for c := range q.n {
					if c < i {
						l[i*q.n+c] = 0
					} else if c > i {
						l[c*q.n+i] = 0
					}
				}
				l[i*q.n+i] = 1
				continue
			}
			l[i*q.n+i] *= 1 + damping
		}
		copy(x, q.b)
		for i := range shared {
			if frozen[i] {
				x[i] = 0
			}
		}
		if !cholesky(l, q.n) {
			damping = max(1e-4, damping*10)
			continue
		}
		solve(l, q.n, x)
		expected := 0.0 // reduction of the objective if the readings are linear in the step
		for i, v := range x {
			expected += v * q.b[i]
			if i < shared && !frozen[i] {
				expected += damping * q.a[i*q.n+i] * v * v
			}
		}
		trial := s.clone()
		for i := range shared {
			trial.v[i] = min(most[i], max(lowest[i], s.v[i]+x[i]))
			x[i] = trial.v[i] - s.v[i]
		}
		for k := range cells {
			trial.gains[k] += x[shared+k]
		}
		for j := range p.maps {
			if !q.ok[j] {
				continue
			}
			t := q.lb[j]
			for a := range 3 {
				y := q.y[j][a*q.n : (a+1)*q.n]
				for c, v := range x {
					t[a] -= y[c] * v
				}
			}
			dx := q.l[j].back(t)
			for a := range 3 {
				trial.planes[j][a] += dx[a]
			}
		}
		p.lay(&trial.v)
		p.settle(&trial, m, slope)
		after := p.cost(&trial, m)
		gained := at - after
		if !(gained > 0) {
			if expected < least*at {
				break
			}
			damping, growth = max(1e-4, damping*growth), 2*growth
			continue
		}
		*s = trial
		at = after
		if gained < least*after {
			break
		}
		surprise := 2*gained/expected - 1
		damping, growth = max(1e-7, damping*max(1./8, 1-surprise*surprise*surprise)), 2
		p.assemble(s, q, p.slopes(s))
	}
	p.lay(&s.v)
}

// mostSteps bounds the number of steps of a fit, which usually takes 10 to 20.
const mostSteps = 40

// frozen reports which parameters are at a limit that their next step would cross.
func (p *problem) frozen(s *state, q *normals) (f [shared]bool) {
	for i := range shared {
		f[i] = s.v[i] <= lowest[i] && q.b[i] < 0 || s.v[i] >= most[i] && q.b[i] > 0
	}
	return f
}

// factor is the lower triangular Cholesky factor of a 3 × 3 matrix.
type factor [3][3]float64

// factor3 factors a symmetric matrix given by its lower triangle; ok is false where it is
// not positive definite.
func factor3(h *[3][3]float64) (l factor, ok bool) {
	for i := range 3 {
		for j := range i + 1 {
			v := h[i][j]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = v / l[j][j]
				continue
			}
			if !(v > 1e-12*h[i][i]) || !(v > 1e-300) {
				return l, false
			}
			l[i][i] = math.Sqrt(v)
		}
	}
	return l, true
}

// forward solves L·x = b.
func (l *factor) forward(b [3]float64) [3]float64 {
	b[0] /= l[0][0]
	b[1] = (b[1] - l[1][0]*b[0]) / l[1][1]
	b[2] = (b[2] - l[2][0]*b[0] - l[2][1]*b[1]) / l[2][2]
	return b
}

// back solves Lᵀ·x = b.
func (l *factor) back(b [3]float64) [3]float64 {
	b[2] /= l[2][2]
	b[1] = (b[1] - l[2][1]*b[2]) / l[1][1]
	b[0] = (b[0] - l[1][0]*b[1] - l[2][0]*b[2]) / l[0][0]
	return b
}

// cholesky factors an n × n matrix, given by its lower triangle, in place. It returns
// false where the matrix is not positive definite.
func cholesky(a []float64, n int) bool {
	for i := range n {
		ri := a[i*n : i*n+i+1]
		for j := range i {
			rj := a[j*n : j*n+j+1]
			v := ri[j]
			for k := range j {
				v -= ri[k] * rj[k]
			}
			ri[j] = v / rj[j]
		}
		v := ri[i]
		for k := range i {
			v -= ri[k] * ri[k]
		}
		if !(v > 0) {
			return false
		}
		ri[i] = math.Sqrt(v)
	}
	return true
}

// solve solves L·Lᵀ·x = b in place.
func solve(l []float64, n int, x []float64) {
	for i := range n {
		v := x[i]
		for k := range i {
			v -= l[i*n+k] * x[k]
		}
		x[i] = v / l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		v := x[i]
		for k := i + 1; k < n; k++ {
			v -= l[k*n+i] * x[k]
		}
		x[i] = v / l[i*n+i]
	}
}
