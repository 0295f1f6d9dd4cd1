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
	m := make([]float64, len(s.gains))
	slope := make([]plane, len(s.gains))
	p.lay(&s.v)
	for range 4 {
		p.settle(s, m, slope)
	}
	at := p.cost(s, m)
	q := newNormals(len(p.maps), len(s.gains))
	p.assemble(s, q, p.slopes(s))
	damping, growth := 1e-2, 2.0
	for range mostSteps {
		frozen := p.frozen(s, q)
		x, expected, ok := q.step(damping, &frozen)
		if !ok {
			damping = max(1e-4, damping*10)
			continue
		}
		trial := q.after(s, x)
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
