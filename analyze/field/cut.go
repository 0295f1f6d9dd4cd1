package field

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"aplomb/device/platform"
)

// cut is pressure with a sharp edge: most·f, kPa, on the side n·r ≤ d of a
// line, n = (cos turn, sin turn), and nothing beyond it.
type cut struct {
	most float64
	n    platform.Point
	d    float64
	f    plane
}

// cutOf makes a cut from parameters: the angle of n, d, c and, where there are more, grad along medial and over.
func cutOf(most float64, x []float64) cut {
	sin, cos := math.Sincos(x[0])
	u := cut{most: most, n: platform.Point{cos, sin}, d: x[1], f: plane{c: x[2]}}
	if len(x) > 3 {
		u.f.grad = platform.Point{x[3], x[4]}
	}
	return u
}

// fitCut finds the line, beginning from lines, and the pressure beside it that
// explain the readings best; n is 1 for uniform pressure, 3 for a plane. The
// misfit has more than one valley, so up to three of the lines are tried, the
// most promising first.
func (g *Grid) fitCut(r readings, family string, lines []platform.Point, n int) candidate {
	f := g.cutModel(r.most)
	starts := make([]candidate, len(lines))
	for i, line := range lines {
		starts[i] = g.settle(r, line, n, f)
	}
	slices.SortFunc(starts, func(a, b candidate) int { return cmp.Compare(a.misfit, b.misfit) })
	best := candidate{family: family, misfit: math.Inf(1), x: make([]float64, 2+n)}
	for _, s := range starts[:3] {
		if s.x == nil {
			continue
		}
		misfit := g.minimise(r, s.x, f, nil)
		if misfit < best.misfit {
			best.misfit, best.x, best.patches = misfit, s.x, cutOf(r.most, s.x).patches
		}
		if misfit < explains*float64(len(g.read)) {
			break
		}
	}
	return best
}

// settle returns the pressure that fits best beside a line that is held, with
// the misfit that leaves: the model is then linear, so that the normal equations
// give both.
func (g *Grid) settle(r readings, line platform.Point, n int, f model) candidate {
	x := make([]float64, 2+n)
	x[0], x[1] = line[0], line[1]
	a, b := mat.NewSymDense(2+n, nil), mat.NewVecDense(2+n, nil)
	at := g.normals(r, x, f, a, b)
	step, pull := mat.NewVecDense(n, nil), b.SliceVec(2, 2+n)
	var chol mat.Cholesky
	if !chol.Factorize(a.SliceSym(2, 2+n)) || chol.SolveVecTo(step, pull) != nil {
		return candidate{misfit: math.Inf(1)}
	}
	copy(x[2:], step.RawVector().Data)
	return candidate{misfit: at - mat.Dot(step, pull), x: x}
}

// cutStarts lists lines to begin from: in every direction the one that leaves as
// much of the platform on its inner side as the loaded cells cover.
func (g *Grid) cutStarts(r readings) []platform.Point {
	type place struct{ at, w float64 }
	covered, all := 0.0, 0.0
	for _, k := range g.inside {
		w := g.cells[k].w
		all += w
		covered += min(w, r.p[k]/(0.5*r.most))
	}
	const directions = 12
	starts := make([]platform.Point, directions)
	line := make([]place, len(g.inside))
	for i := range starts {
		turn := 2 * math.Pi * float64(i) / directions
		sin, cos := math.Sincos(turn)
		for j, k := range g.inside {
			c := g.cells[k].home
			line[j] = place{cos*c[0] + sin*c[1], g.cells[k].w}
		}
		slices.SortFunc(line, func(a, b place) int { return cmp.Compare(a.at, b.at) })
		sum := 0.0
		for _, p := range line {
			if sum += p.w; sum >= min(covered, 0.97*all) {
				starts[i] = platform.Point{turn, p.at}
				break
			}
		}
	}
	return starts
}

// patches is the cut within one cell.
func (u cut) patches(c *cell) []patch {
	return []patch{{part: c.part.halfPlane(u.n, u.d), f: u.f, exponent: 1}}
}

// cutModel predicts readings under a cut with parameters as cutOf takes them.
func (g *Grid) cutModel(most float64) model {
	return func(x []float64, c *cell, slope []float64) float64 {
		u := cutOf(most, x)
		var turn, out float64
		scale := most / g.cellArea
		s := moments(c.part.body, scale)
		switch depth := u.d - u.n[0]*c.home[0] - u.n[1]*c.home[1]; {
		case depth <= -c.part.reach:
			s = sums{}
		case depth < c.part.reach:
			s, turn, out = u.of(c, depth, scale)
		}
		if slope != nil {
			slope[0], slope[1], slope[2] = turn, out, s.of
			if len(x) > 3 {
				slope[3], slope[4] = s.mom[0], s.mom[1]
			}
		}
		return u.f.c*s.of + u.f.grad[0]*s.mom[0] + u.f.grad[1]*s.mom[1]
	}
}

// of returns area and first moments of the cell on the inner side of the line,
// which runs through it at depth from its centroid, and the rates at which the
// load there changes as the line turns and as it moves out; all times scale.
//
// The edges that lie inside are summed as Green's theorem has it. Where the
// boundary leaves over the line and later comes back, the stretch of line
// between adds an integral along it, taken as a function of where it came back
// less the same function of where it left.
func (u cut) of(c *cell, depth, scale float64) (s sums, turn, out float64) {
	n, t := u.n, platform.Point{-u.n[1], u.n[0]}
	tHome := t[0]*c.home[0] + t[1]*c.home[1]
	f0 := u.f.at(platform.Point{c.home[0] + depth*n[0], c.home[1] + depth*n[1]})
	f1 := u.f.grad[0]*t[0] + u.f.grad[1]*t[1]
	at := func(p platform.Point, sign float64) {
		v := t[0]*p[0] + t[1]*p[1] // along the line
		s.of += sign * depth * v / 2
		s.mom[0] += sign * depth / 6 * (2*depth*n[0]*v + t[0]*v*v)
		s.mom[1] += sign * depth / 6 * (2*depth*n[1]*v + t[1]*v*v)
		load, lever := f0*v+f1*v*v/2, f0*v*v/2+f1*v*v*v/3
		out += sign * load
		turn -= sign * (lever + tHome*load) // at r the line moves by -(t·r) a radian
	}
	poly := c.part.outline
	for i := range poly {
		a := platform.Point{poly[i][0] - c.home[0], poly[i][1] - c.home[1]}
		j := (i + 1) % len(poly)
		b := platform.Point{poly[j][0] - c.home[0], poly[j][1] - c.home[1]}
		da, db := depth-n[0]*a[0]-n[1]*a[1], depth-n[0]*b[0]-n[1]*b[1]
		if da < 0 && db < 0 {
			continue
		}
		if (da < 0) != (db < 0) {
			f := da / (da - db)
			cross := platform.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}
			if da < 0 {
				at(cross, 1)
				a = cross
			} else {
				at(cross, -1)
				b = cross
			}
		}
		green := a[0]*b[1] - a[1]*b[0]
		s.of += green / 2
		s.mom[0] += green * (a[0] + b[0]) / 6
		s.mom[1] += green * (a[1] + b[1]) / 6
	}
	s.mom[0] += s.of * c.home[0]
	s.mom[1] += s.of * c.home[1]
	return sums{s.of * scale, platform.Point{s.mom[0] * scale, s.mom[1] * scale}}, turn * scale, out * scale
}
