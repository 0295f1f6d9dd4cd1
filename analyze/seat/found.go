package seat

import (
	"math"
)

// found is a fit of the maps of one kind.
type found struct {
	problem   *problem
	v         vector
	cov       [shared][shared]float64 // of the fit, without an error of the model
	gains     []float64
	planes    []plane // of the maps that were fitted
	scale     float64 // √(χ² ÷ degrees of freedom), at least 1
	chi2, dof float64
}

// withOwnRoom returns f with room of its own for reading maps, so that several goroutines
// can read some at a time.
func (f *found) withOwnRoom() *found {
	own, p, g := *f, *f.problem, *f.problem.grid
	g.row, g.sums = make([]float64, len(g.row)), make([]sums, len(g.sums))
	p.grid, own.problem = &g, &p
	return &own
}

// The prior of what maps share where nothing else is known. All are our
// assumptions. The growth of the outline is that of a ruler with a standard
// deviation of 0.8 mm in width and in depth. The floor's stiffness is about that
// of 2 mm of dance floor on a hard one, the pad's that of some millimetres of soft
// closed-cell foam.
var (
	priorMean = vector{pressBed: math.Log(50), holdBed: math.Log(1500), pressCurve: 0.001}
	priorSD   = vector{
		medial: openMM, over: openMM, turn: rotationDeg * math.Pi / 180, width: 0.4, depth: 0.4,
		domeMedial: 0.15, domeOver: 0.15, frontRadius: 2, backRadius: 2,
		pressBed: 0.7, holdBed: 0.5, pressSpread: 3, holdSpread: 3, pressCurve: 0.002,
	}
	// Away from the limits, where a derivative could vanish.
	start = vector{domeMedial: 0.02, domeOver: 0.02, frontRadius: 0.5, backRadius: 0.5, pressSpread: 0.3, holdSpread: 0.3, pressCurve: 0.0005}
	// Where the fit is tried again if it ended nowhere: strongly rounded edges on
	// foam that stiffens.
	restart = vector{domeMedial: 0.05, domeOver: 0.05, frontRadius: 2, backRadius: 2, pressSpread: 1, holdSpread: 1, pressCurve: 0.002}
)

// Standard deviations of the priors.
const (
	openMM      = 3   // of a seat during a fit, at least; the profile's claim comes afterwards
	rotationDeg = 2   // of a mounting's rotation
	betweenMM   = 0.5 // of the seat of holds about that of the presses before, while they are fitted
	betweenDeg  = 0.5
	// The prior's standard deviation of gains after a press is the one before, divided by this.
	gainNarrower = 3
	leastGainSD  = 1e-3 // of a gain, where the input has less
)

// firstScale is by how much more than noise the readings may be off in the first
// round of a fit, so that it does not end in a local minimum; nextScale is that of holds that
// follow presses.
const (
	firstScale = 20
	nextScale  = 4
)

// fit fits maps of one kind. before is the fit of the presses that holds follow,
// or nil; start is where what is not known otherwise begins.
func fit(in Input, s *shape, kind Kind, maps []reading, before *found, start *vector) *found {
	p, at := approach(in, s, kind, maps, before, start)
	return p.finish(&at)
}

// approach is the first round of a fit, which leads near a minimum.
func approach(in Input, s *shape, kind Kind, maps []reading, before *found, start *vector) (*problem, state) {
	g := newGrid(in.Strip)
	cells := in.Strip.Cells()
	p := &problem{
		kind: kind, grid: g, shape: s, maps: maps, mean: priorMean, sd: priorSD,
		gains: make([]float64, cells), gain: max(in.GainSD, leastGainSD), scale: firstScale,
	}
	p.scenes()
	mount := in.Strip.Mount
	p.mean[medial], p.mean[over], p.mean[turn] = mount.OffsetMM[0], mount.OffsetMM[1], mount.RotationDeg*math.Pi/180
	p.sd[medial], p.sd[over] = max(openMM, mount.SeatSDMM), max(openMM, mount.SeatSDMM)
	at := state{v: *start, gains: make([]float64, cells), planes: make([]plane, len(maps))}
	at.v[pressBed], at.v[holdBed] = p.mean[pressBed], p.mean[holdBed]
	at.v[medial], at.v[over], at.v[turn] = p.mean[medial], p.mean[over], p.mean[turn]
	if kind == Press {
		at.v[medial], at.v[over] = g.roughSeat(maps, at.v[turn])
	}
	if in.Known != nil {
		p.know(in.Known, &at)
	}
	if before != nil {
		p.after(before, &at)
	}
	curve := 0.0
	if kind == Press {
		curve = at.v[pressCurve]
	}
	for j := range maps {
		at.planes[j] = g.through(&maps[j], curve)
	}

	p.minimise(&at, 1e-2)
	return p, at
}

// finish is the rest of a fit, which scales the standard deviations of the
// readings until the misfit is what they say.
func (p *problem) finish(at *state) *found {
	f := &found{problem: p}
	for range 2 {
		was := p.scale
		f.chi2, f.dof = p.misfit(at)
		p.scale = math.Sqrt(max(1, f.chi2/f.dof))
		if r := p.scale / was; r > 0.9 && r < 1.1 {
			break
		}
		p.minimise(at, 1e-3)
	}
	f.chi2, f.dof = p.misfit(at)
	f.v, f.gains, f.planes, f.scale = at.v, at.gains, at.planes, p.scale
	p.covariance(at, &f.cov, &wide)
	return f
}

// know makes a bearing outline from other mountings the prior.
func (p *problem) know(o *Outline, at *state) {
	for k, v := range o.values() {
		i := width + k
		p.mean[i], p.sd[i] = v.Value, max(v.SD, 1e-3)
		at.v[i] = max(v.Value, lowest[i]+step[i])
	}
}

// after makes the fit of the presses the prior of holds, but for where the strip
// moved in between and for what holds alone depend on.
func (p *problem) after(f *found, at *state) {
	for i := range shared {
		if concerns(i, Press) && concerns(i, Hold) {
			p.mean[i], p.sd[i] = f.v[i], math.Sqrt(f.cov[i][i])
			at.v[i] = max(f.v[i], lowest[i]+step[i])
		}
	}
	for _, i := range []int{medial, over, turn} {
		at.v[i] = f.v[i]
	}
	p.sd[medial], p.sd[over] = math.Hypot(p.sd[medial], betweenMM), math.Hypot(p.sd[over], betweenMM)
	p.sd[turn] = math.Hypot(p.sd[turn], betweenDeg*math.Pi/180)
	// What spreads pressure is mostly the cover, which stays.
	p.mean[holdSpread], p.sd[holdSpread] = f.v[pressSpread], 0.5
	at.v[holdSpread] = max(f.v[pressSpread], step[holdSpread])
	p.gains, p.gain = f.gains, p.gain/gainNarrower
	copy(at.gains, f.gains)
	p.scale = nextScale // the presses have led near the minimum
}

// misfit returns Huber's χ² of the maps with their standard deviations as given,
// and its degrees of freedom. Cells that the model leaves without load have no part.
func (p *problem) misfit(s *state) (chi2, dof float64) {
	m := make([]float64, len(s.gains))
	for j := range p.maps {
		r := &p.maps[j]
		p.read(s.planes[j], m, nil)
		for k := range m {
			if math.IsInf(r.s[k], 1) || m[k] < 0.01*r.most {
				continue
			}
			add, _ := loss((r.p[k] - (1+s.gains[k])*m[k]) / (r.s[k] * p.scale))
			chi2 += add * p.scale * p.scale
			dof++
		}
		dof -= 3
	}
	return chi2, max(1, dof)
}

// wide is the difference for the derivatives that a covariance is taken from:
// for what is bounded by 0 the secant over a part of its prior, because at 0 the
// readings do not depend on a radius to first order, and a covariance from the
// tangent would say that the radius has no part in the seat's error.
var wide = vector{0.03, 0.03, 0.002, 0.03, 0.03, 0.05, 0.05, 1, 1, 0.05, 0.05, 0.5, 0.5, 5e-5}

// covariance sets cov to that of the shared parameters, the planes and gains
// being estimated with them.
func (p *problem) covariance(s *state, cov *[shared][shared]float64, steps *vector) {
	p.lay(&s.v)
	q := &normals{}
	p.assemble(s, q, p.secants(s, steps))
	if !cholesky(q.a, q.n) {
		return // cov stays zero, which doubt refuses
	}
	x := make([]float64, q.n)
	for i := range shared {
		clear(x)
		x[i] = 1
		solve(q.a, q.n, x)
		copy(cov[i][:], x[:shared])
	}
}

// roughSeat returns where the strip's centre lies, mm, if the centroid of the
// cells that any of the maps loads is that of the platform. It is good for a
// start from presses all round.
func (g *grid) roughSeat(maps []reading, turn float64) (medial, over float64) {
	sum := 0.0
	var c [2]float64
	for k := range g.rows * g.cols {
		most := 0.0
		for j := range maps {
			most = max(most, maps[j].p[k]/maps[j].most)
		}
		// A cell that is loaded at all counts in full, one at the edge in part.
		w := min(1, most/0.3)
		q := g.centre(k)
		sum += w
		c[0] += w * q[0]
		c[1] += w * q[1]
	}
	sin, cos := math.Sincos(turn)
	return -(cos*c[0] - sin*c[1]) / sum, -(sin*c[0] + cos*c[1]) / sum
}

// through is the plane through the readings of the cells that clearly carry
// load, as a bed of constant stiffness would have them.
func (g *grid) through(r *reading, curve float64) plane {
	var h [3][3]float64
	var b [3]float64
	for k, v := range r.p {
		if v < 0.25*r.most || math.IsInf(r.s[k], 1) {
			continue
		}
		c := g.centre(k)
		at := [3]float64{1, c[0], c[1]}
		for i := range 3 {
			b[i] += at[i] * v / (1 + curve*v)
			for j := range i + 1 {
				h[i][j] += at[i] * at[j]
			}
		}
	}
	// One cell alone makes a level plane.
	h[0][0] += 1e-3
	h[1][1] += g.pitch[0] * g.pitch[0]
	h[2][2] += g.pitch[1] * g.pitch[1]
	l, ok := factor3(&h)
	if !ok {
		return plane{r.most}
	}
	return l.back(l.forward(b))
}
