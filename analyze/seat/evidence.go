package seat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"aplomb/device/platform"
)

// Limits at which a kind of evidence is refused. Those of the misfit are above what the
// simulator's scenarios reach, and below that of a press with the bare hand.
const (
	leastMaps   = 5   // of a press
	leastLoadN  = 25  // of a map
	FarMM       = 6   // distance of a seat from holds alone from that of the profile
	PressFarMM  = 8   // distance of a seat from a press from that of the profile
	otherMM     = 2   // growth of half-width or half-depth
	unseenMM    = 0.4 // standard uncertainty of medial or over from a press, without the model's error
	pressMisfit = 18  // √(χ² ÷ degrees of freedom) of a press
	holdMisfit  = 40  // and of holds
)

// Quantiles of χ² (any table). Two estimates contradict each other where their difference
// exceeds them.
const (
	conflict2 = 9.21  // 2 degrees of freedom, 99 %
	conflict3 = 16.27 // 3 degrees of freedom, 99.9 %
)

// modelErrors holds the standard deviations of the model's error: base + perMisfit ×
// (misfit - 1), where misfit is √(χ² ÷ degrees of freedom). They are those of medial
// (mm), over (mm) and rotation (degrees), and of the bearing outline's half-width and
// half-depth (mm).
type modelErrors struct {
	base, perMisfit  [3]float64
	outline          [2]float64
	outlinePerMisfit float64
}

// Model's errors by evidence. They were chosen on the mountings with seeds 1 to 80 of the
// simulator's scenarios so that 95 % intervals contain the true value in about 95 % or
// more of the mountings of each; the tables report mountings with other seeds.
var (
	pressError = modelErrors{[3]float64{0.05, 0.06, 0.2}, [3]float64{0.02, 0.02, 0.1}, [2]float64{0.07, 0.07}, 0.12}
	holdsError = modelErrors{[3]float64{0.10, 0.65, 0.7}, [3]float64{0.01, 0.02, 0.1}, [2]float64{0.2, 0.55}, 0.01}
	// Holds alone, where presses of other mountings have determined the bearing outline.
	knownError = modelErrors{[3]float64{0.10, 0.40, 0.5}, [3]float64{0.01, 0.02, 0.1}, [2]float64{0.15, 0.15}, 0.01}
	// Holds that follow a press of their own mounting.
	afterError = modelErrors{base: [3]float64{0.10, 0.33, 0.5}, perMisfit: [3]float64{0.01, 0, 0.1}}
)

func (e *modelErrors) variance(misfit float64) (v [3]float64) {
	for i := range v {
		s := e.base[i] + e.perMisfit[i]*max(0, misfit-1)
		v[i] = s * s
	}
	return v
}

// ofOutline returns the variance of the model's error of a parameter of the outline, mm²,
// and 0 for the parameters that only describe its surface.
func (e *modelErrors) ofOutline(parameter int, misfit float64) float64 {
	if parameter != width && parameter != depth {
		return 0
	}
	s := e.outline[parameter-width] + e.outlinePerMisfit*max(0, misfit-1)
	return s * s
}

// Find estimates the seat of one mounting. It always returns a seat: where the maps do
// not support one, that of the strip's profile.
//
// Presses are fitted first and alone, because a seat from holds on a stiff floor depends
// on the shape of the edge that the dancer stands on: a rounded back edge moves it by as
// much as the edge recedes. Holds are then fitted with the outline and the gains of that
// fit as their prior. The two seats are combined, weighted by their uncertainties, which
// include the model's errors and the strip's movement in between.
//
// A second press, after the holds, measures how far the strip moved; the seat during the
// holds then lies between the two.
func Find(in Input) Seat {
	s := newShape(in.Outline)
	return find(in, s, findPresses(in, s))
}

// presses holds the fits of a mounting's pad presses.
type presses struct {
	// first is the fit whose result is the prior of the holds, second that of the press
	// after them; nil where there is none that can be used. A single press is the first.
	first, second *found
	reason        Reason // why a press cannot be used
	refused       int    // the Map.Press of that one
}

func findPresses(in Input, s *shape) (p presses) {
	for _, press := range []int{0, 1} {
		f, reason := fitted(in.ofPress(press), s, Press, p.first)
		if p.first == nil {
			p.first = f
		} else {
			p.second = f
		}
		if reason != "" {
			p.reason, p.refused = reason, press
		}
	}
	return p
}

// ofPress returns the input with the maps of the holds and of one press: 0 for the one
// before the holds, 1 for the one after them.
func (in Input) ofPress(press int) Input {
	var maps []Map
	for _, m := range in.Maps {
		if m.Kind == Hold || min(1, m.Press) == press {
			maps = append(maps, m)
		}
	}
	in.Maps = maps
	return in
}

// find estimates the seat of a mounting whose presses have been fitted.
func find(in Input, s *shape, p presses) Seat {
	press := p.first
	holds, holdsReason := fitted(in, s, Hold, press)

	out := Seat{UsedHolds: holds != nil}
	refuse := func(e Evidence, r Reason) {
		if r != "" {
			out.Refused = append(out.Refused, Refusal{e, r})
		}
	}
	if press != nil {
		out.LeftOut, out.LeftOutPress = p.reason, p.refused
	} else {
		refuse(FromPress, p.reason)
		refuse(FromHolds, holdsReason)
	}
	x, cov := profile(in)
	var e *modelErrors
	switch {
	case press != nil:
		out.Evidence = FromPress
		e = &pressError
		out.describe(press, e)
		// The profile describes the seat in which the strip was mounted, before it moved.
		x, cov = press.seat(e)
		x, cov, out.PriorConflict = withProfile(in, x, cov)
		move := in.moveSD()
		if p.second != nil {
			// A movement that was undone before the second press is not visible in
			// either.
			move = DefaultMoveSDMM / 2
			x, cov, out.Shift = between(x, cov, p.second)
		}
		if holds != nil {
			x, cov, out.Moved = follow(x, cov, holds, move)
		}
	case holds != nil:
		out.Evidence = FromHolds
		e = &holdsError
		if in.Known != nil {
			e = &knownError
		}
		out.describe(holds, e)
		x, cov = holds.seat(e)
		x, cov, out.PriorConflict = withProfile(in, x, cov)
	default:
		out.Evidence = Assumed
		if slices.ContainsFunc(out.Refused, func(r Refusal) bool { return r.Reason == SeatFar }) {
			// Either the maps or the profile are far wrong, and nothing tells which.
			out.PriorConflict = true
			for i := range 2 {
				cov.SetSym(i, i, max(cov.At(i, i), openMM*openMM))
			}
		}
	}
	out.Offset, out.RotationDeg = platform.Point{x[0], x[1]}, x[2]
	for i := range 3 {
		for j := range 3 {
			out.Cov[i][j] = cov.At(i, j)
		}
	}
	out.Common = out.common(press, holds, e)
	out.Bearing = in.Outline
	if out.Evidence != Assumed {
		o := &out.Outline
		out.Bearing = s.grown(in.Outline, o.HalfWidth.Value, o.HalfDepth.Value)
	}
	out.BearingMM2 = out.Bearing.Area()
	out.loadedMaps(in, [2]*found{press, holds}, e)
	return out
}

// seat returns medial, over (mm) and rotation (degrees) with their covariance, which
// includes the model's error (JCGM 100:2008, 5.1.2, for independent quantities).
func (f *found) seat(e *modelErrors) ([3]float64, *mat.SymDense) {
	unit := [3]float64{1, 1, 180 / math.Pi}
	v := e.variance(f.scale)
	var x [3]float64
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		x[i] = f.v[i] * unit[i]
		for j := range i + 1 {
			cov.SetSym(i, j, f.cov[i][j]*unit[i]*unit[j])
		}
		cov.SetSym(i, i, cov.At(i, i)+v[i])
	}
	return x, cov
}

// describe sets the outline and the misfit of a fit, with the model's errors.
func (s *Seat) describe(f *found, e *modelErrors) {
	for k, v := range s.Outline.values() {
		i := width + k
		*v = Value{f.v[i], math.Sqrt(f.cov[i][i] + e.ofOutline(i, f.scale))}
	}
	s.Chi2, s.DOF = f.chi2, f.dof
}

// moveSD returns the standard deviation of the strip's movement between press and holds,
// mm along each axis and degrees, where there is no second press.
func (in *Input) moveSD() float64 {
	if in.MoveSDMM == 0 {
		return DefaultMoveSDMM
	}
	return in.MoveSDMM
}

// between returns the seat during the holds and its covariance from a first press, with
// seat x and covariance cov, and a second one. The seat lies anywhere between the two
// with equal probability, so their difference d adds d²/12 to the variance (JCGM
// 100:2008, 4.3.7).
func between(x [3]float64, cov *mat.SymDense, second *found) ([3]float64, *mat.SymDense, *Shift) {
	y, other := second.seat(&pressError)
	var d [3]Value
	for i := range d {
		d[i] = Value{y[i] - x[i], math.Sqrt(cov.At(i, i) + other.At(i, i))}
		x[i] += d[i].Value / 2
	}
	sum := mat.NewSymDense(3, nil)
	for i := range d {
		for j := range i + 1 {
			// The presses share the outline and the gains, whose errors do not average out.
			sum.SetSym(i, j, (cov.At(i, j)+other.At(i, j))/2+d[i].Value*d[j].Value/12)
		}
	}
	return x, sum, &Shift{Medial: d[0], Over: d[1], Rotation: d[2]}
}

// follow combines a seat before the holds with that of the holds. sd is the standard
// deviation of the strip's movement in between, mm along each axis and degrees.
func follow(x [3]float64, cov *mat.SymDense, holds *found, sd float64) ([3]float64, *mat.SymDense, bool) {
	y, other := holds.seat(&afterError)
	before := mat.NewSymDense(3, nil)
	before.CopySym(cov)
	for i := range 3 {
		before.SetSym(i, i, before.At(i, i)+sd*sd)
	}
	moved := apart(x, y, before, other, 3) > conflict3
	if moved {
		for i := range 3 {
			before.SetSym(i, i, before.At(i, i)+(y[i]-x[i])*(y[i]-x[i]))
		}
	}
	x, cov = combine(x, y, before, other)
	return x, cov, moved
}

// profile returns the seat that the strip's profile states, with its covariance.
func profile(in Input) ([3]float64, *mat.SymDense) {
	m := in.Strip.Mount
	cov := mat.NewSymDense(3, nil)
	cov.SetSym(0, 0, m.SeatSDMM*m.SeatSDMM)
	cov.SetSym(1, 1, m.SeatSDMM*m.SeatSDMM)
	cov.SetSym(2, 2, rotationDeg*rotationDeg)
	return [3]float64{m.OffsetMM[0], m.OffsetMM[1], m.RotationDeg}, cov
}

// withProfile combines a seat with that of the strip's profile, unless they
// contradict each other.
func withProfile(in Input, x [3]float64, cov *mat.SymDense) ([3]float64, *mat.SymDense, bool) {
	y, prior := profile(in)
	if apart(x, y, cov, prior, 2) > conflict2 {
		return x, cov, true
	}
	// The fit has its own prior of the rotation.
	prior.SetSym(2, 2, 1e6)
	x, cov = combine(x, y, cov, prior)
	return x, cov, false
}

// apart returns the χ² of the difference between two independent estimates in their first
// n components.
func apart(x, y [3]float64, a, b *mat.SymDense, n int) float64 {
	sum := mat.NewSymDense(n, nil)
	d := mat.NewVecDense(n, nil)
	for i := range n {
		d.SetVec(i, x[i]-y[i])
		for j := range i + 1 {
			sum.SetSym(i, j, a.At(i, j)+b.At(i, j))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(sum) {
		return 0
	}
	z := mat.NewVecDense(n, nil)
	if chol.SolveVecTo(z, d) != nil {
		return 0
	}
	return mat.Dot(d, z)
}

// combine returns the mean of two independent estimates, each weighted by the inverse of
// its covariance, with the covariance of the mean.
func combine(x, y [3]float64, a, b *mat.SymDense) ([3]float64, *mat.SymDense) {
	sum := mat.NewSymDense(3, nil)
	sum.AddSym(a, b)
	var chol mat.Cholesky
	if !chol.Factorize(sum) {
		return x, a
	}
	// The gain is a·(a + b)⁻¹, the covariance a - gain·a.
	inverse := mat.NewSymDense(3, nil)
	if chol.InverseTo(inverse) != nil {
		return x, a
	}
	var gain, part mat.Dense
	gain.Mul(a, inverse)
	part.Mul(&gain, a)
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := range i + 1 {
			cov.SetSym(i, j, a.At(i, j)-(part.At(i, j)+part.At(j, i))/2)
		}
	}
	d := [3]float64{y[0] - x[0], y[1] - x[1], y[2] - x[2]}
	for i := range 3 {
		for j := range 3 {
			x[i] += gain.At(i, j) * d[j]
		}
	}
	return x, cov
}

// fitted fits the maps of a kind, and returns the reason why the fit must not be used; ""
// where there are no maps of that kind or the fit is good.
func fitted(in Input, s *shape, kind Kind, before *found) (*found, Reason) {
	maps := loaded(in, kind)
	if len(maps) == 0 {
		for _, m := range in.Maps {
			if m.Kind == kind {
				return nil, FewMaps
			}
		}
		return nil, ""
	}
	if kind == Press && len(maps) < leastMaps {
		return nil, FewMaps
	}
	maps = condense(maps, kind)
	f := fit(in, s, kind, maps, before, &start)
	reason := doubt(in, kind, f, before)
	if reason != "" || kind == Press && f.scale > highMisfit {
		// The fit may have ended in a local minimum.
		p, at := approach(in, s, kind, maps, before, &restart)
		p.scale = f.scale // so that the two misfits are comparable
		chi2, _ := p.misfit(&at)
		p.scale = firstScale
		if reason != "" || chi2 < f.chi2/2 {
			g := p.finish(&at)
			if again := doubt(in, kind, g, before); g.scale < f.scale || again == "" {
				f, reason = g, again
			}
		}
	}
	if reason != "" {
		return nil, reason
	}
	return f, ""
}

// doubt returns the reason why a fit must not be used, "" where it may be.
func doubt(in Input, kind Kind, f, before *found) Reason {
	m := in.Strip.Mount
	limit, far := float64(pressMisfit), float64(PressFarMM)
	if kind == Hold {
		limit = holdMisfit
		if before == nil {
			far = FarMM
		}
	}
	switch {
	case !(f.cov[over][over] > 0) || f.scale > limit:
		return Misfit
	case math.Hypot(f.v[medial]-m.OffsetMM[0], f.v[over]-m.OffsetMM[1]) > far:
		return SeatFar
	case max(math.Abs(f.v[width]), math.Abs(f.v[depth])) > otherMM:
		return OtherOutline
	case kind == Hold:
		return ""
	case math.Sqrt(max(f.cov[medial][medial], f.cov[over][over])) > unseenMM, f.gap() > rockedGap, !f.covered():
		return EdgesUnseen
	case f.slipped():
		return Slipped
	}
	return ""
}
