package seat

import (
	"math"
)

// found is the result of fitting the maps of one kind.
type found struct {
	problem   *problem
	v         vector
	cov       [shared][shared]float64 // of the fit, without an error of the model
	gains     []float64
	planes    []plane // of the maps that were fitted
	scale     float64 // √(χ² ÷ degrees of freedom), at least 1
	chi2, dof float64
}

// withOwnRoom returns a copy of f with its own buffers, so that several goroutines can
// evaluate maps at the same time.
func (f *found) withOwnRoom() *found {
	own, p, g := *f, *f.problem, *f.problem.grid
	g.row, g.sums = make([]float64, len(g.row)), make([]sums, len(g.sums))
	p.grid, own.problem = &g, &p
	return &own
}

// The prior of the shared parameters where nothing else is known. All values are our
// assumptions. The growth of the outline corresponds to a ruler's standard deviation of
// 0.8 mm in width and in depth. The floor's stiffness is about that of 2 mm of dance
// floor on a hard base, the pad's that of some millimetres of soft closed-cell foam.
var (
	priorMean = vector{pressBed: math.Log(50), holdBed: math.Log(1500), pressCurve: 0.001}
	priorSD   = vector{
		medial: openMM, over: openMM, turn: rotationDeg * math.Pi / 180, width: 0.4, depth: 0.4,
		domeMedial: 0.15, domeOver: 0.15, frontRadius: 2, backRadius: 2,
		pressBed: 0.7, holdBed: 0.5, pressSpread: 3, holdSpread: 3, pressCurve: 0.002,
	}
	// start is the initial point of a fit, away from the limits, where a derivative could
	// vanish.
	start = vector{domeMedial: 0.02, domeOver: 0.02, frontRadius: 0.5, backRadius: 0.5, pressSpread: 0.3, holdSpread: 0.3, pressCurve: 0.0005}
	// restart is the initial point of a second attempt: strongly rounded edges on
	// stiffening foam.
	restart = vector{domeMedial: 0.05, domeOver: 0.05, frontRadius: 2, backRadius: 2, pressSpread: 1, holdSpread: 1, pressCurve: 0.002}
)

// Standard deviations of the priors.
const (
	openMM      = 3   // of a seat during a fit, at least; the profile's seat is combined afterwards
	rotationDeg = 2   // of a mounting's rotation
	betweenMM   = 0.5 // of the seat of holds relative to that of the presses, during their fit
	betweenDeg  = 0.5
	// gainNarrower divides the standard deviation of the gains' prior after a press.
	gainNarrower = 3
	leastGainSD  = 1e-3 // of a gain, at least
)

// firstScale multiplies the standard deviations of the readings in the first round of a
// fit, so that it does not end in a local minimum. nextScale does so for holds that
// follow presses.
const (
	firstScale = 20
	nextScale  = 4
)

// fit fits maps of one kind. before is the fit of the presses that precede holds, or nil;
// start is the initial point of parameters for which nothing better is known.
func fit(in Input, s *shape, kind Kind, maps []reading, before *found, start *vector) *found {
	p, at := approach(in, s, kind, maps, before, start)
	return p.finish(&at)
}

// approach is the first round of a fit, which ends near a minimum.
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

// finish completes a fit. It scales the standard deviations of the readings until they
// agree with the misfit.
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

// know sets the prior of the outline's parameters to a bearing outline known from other
// mountings.
func (p *problem) know(o *Outline, at *state) {
	for k, v := range o.values() {
		i := width + k
		p.mean[i], p.sd[i] = v.Value, max(v.SD, 1e-3)
		at.v[i] = max(v.Value, lowest[i]+step[i])
	}
}

// after sets the prior of holds to the fit of the presses, except for parameters of holds
// alone, and with the strip's movement in between added to the seat's uncertainty.
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
	// Pressure spreads mostly in the cover, which is the same for both.
	p.mean[holdSpread], p.sd[holdSpread] = f.v[pressSpread], 0.5
	at.v[holdSpread] = max(f.v[pressSpread], step[holdSpread])
	p.gains, p.gain = f.gains, p.gain/gainNarrower
	copy(at.gains, f.gains)
	p.scale = nextScale // the initial point is near the minimum
}

// misfit returns Huber's χ² of the maps with their standard deviations as given, and its
// degrees of freedom. It leaves out cells without load in the model.
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

// wide holds the differences for the derivatives from which a covariance is computed. For
// parameters bounded by 0 they are secants over a part of the prior: at 0 the readings do
// not depend on a radius to first order, and a covariance from the tangent would say that
// the radius does not contribute to the seat's error.
var wide = vector{0.03, 0.03, 0.002, 0.03, 0.03, 0.05, 0.05, 1, 1, 0.05, 0.05, 0.5, 0.5, 5e-5}

// covariance sets cov to the covariance of the shared parameters when planes and gains
// are estimated together with them.
func (p *problem) covariance(s *state, cov *[shared][shared]float64, steps *vector) {
	p.lay(&s.v)
	q := newNormals(len(p.maps), len(s.gains))
	p.assemble(s, q, p.secants(s, steps))
	if !cholesky(q.a, q.n) {
		return // cov stays zero, and doubt then refuses the fit
	}
	x := make([]float64, q.n)
	for i := range shared {
		clear(x)
		x[i] = 1
		solve(q.a, q.n, x)
		copy(cov[i][:], x[:shared])
	}
}

// roughSeat returns a first estimate of the strip's centre, mm: where it lies if the
// centroid of all cells that any map loads is the centroid of the platform. It serves as
// the initial point of a press that was rocked to all sides.
func (g *grid) roughSeat(maps []reading, turn float64) (medial, over float64) {
	sum := 0.0
	var c [2]float64
	for k := range g.rows * g.cols {
		most := 0.0
		for j := range maps {
			most = max(most, maps[j].p[k]/maps[j].most)
		}
		// A clearly loaded cell has the weight 1, one at the edge less.
		w := min(1, most/0.3)
		q := g.centre(k)
		sum += w
		c[0] += w * q[0]
		c[1] += w * q[1]
	}
	sin, cos := math.Sincos(turn)
	return -(cos*c[0] - sin*c[1]) / sum, -(sin*c[0] + cos*c[1]) / sum
}

// through returns the plane that best fits the readings of clearly loaded cells on a bed
// of constant stiffness.
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
	// With a single cell the plane is level.
	h[0][0] += 1e-3
	h[1][1] += g.pitch[0] * g.pitch[0]
	h[2][2] += g.pitch[1] * g.pitch[1]
	l, ok := factor3(&h)
	if !ok {
		return plane{r.most}
	}
	return l.back(l.forward(b))
}
