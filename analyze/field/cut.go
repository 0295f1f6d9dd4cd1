package field

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"aplomb/device/platform"
)

// cut is pressure with a sharp edge: the plane peak·f, kPa, on the side n·r ≤ d
// of a line with unit normal n, and zero on the other side.
type cut struct {
	n platform.Point
	d float64
	f plane
}

// cutOf returns the cut of parameters x: the angle of n in radians, d in mm, the
// constant of f and, with five parameters, its gradient along medial and over,
// 1/mm.
func cutOf(x []float64) cut {
	sin, cos := math.Sincos(x[0])
	u := cut{n: platform.Point{cos, sin}, d: x[1], f: plane{c: x[2]}}
	if len(x) > 3 {
		u.f.grad = platform.Point{x[3], x[4]}
	}
	return u
}

// fitCut fits the line and the pressure beside it to the readings; n is the
// number of pressure parameters, 1 for uniform pressure and 3 for a plane. The
// misfit has several local minima, so the three start lines with the least misfit
// are tried in turn.
func (g *Grid) fitCut(r readings, family string, lines []platform.Point, n int) fittedModel {
	f := g.cutModel(r.peak)
	starts := make([]fittedModel, len(lines))
	for i, line := range lines {
		starts[i] = g.fitBesideLine(r, line, n, f)
	}
	slices.SortFunc(starts, func(a, b fittedModel) int { return cmp.Compare(a.misfit, b.misfit) })
	best := fittedModel{family: family, misfit: math.Inf(1), x: make([]float64, 2+n)}
	for _, s := range starts[:3] {
		if s.x == nil {
			continue
		}
		misfit := g.minimise(r, s.x, f, nil)
		if misfit < best.misfit {
			best.misfit, best.x, best.patches = misfit, s.x, cutOf(s.x).patches
		}
		if misfit < maxMisfit*float64(len(g.used)) {
			break
		}
	}
	return best
}

// fitBesideLine returns the best pressure beside a fixed line and its misfit. The
// model is then linear, and the normal equations give both.
func (g *Grid) fitBesideLine(r readings, line platform.Point, n int, f model) fittedModel {
	x := make([]float64, 2+n)
	x[0], x[1] = line[0], line[1]
	a, b := mat.NewSymDense(2+n, nil), mat.NewVecDense(2+n, nil)
	at := g.normals(r, x, f, a, b)
	step, right := mat.NewVecDense(n, nil), b.SliceVec(2, 2+n)
	var chol mat.Cholesky
	if !chol.Factorize(a.SliceSym(2, 2+n)) || chol.SolveVecTo(step, right) != nil {
		return fittedModel{misfit: math.Inf(1)}
	}
	copy(x[2:], step.RawVector().Data)
	return fittedModel{misfit: at - mat.Dot(step, right), x: x}
}

// cutStarts returns start lines, [angle, d], in twelve directions. Each leaves as
// much area of the platform on its inner side as the loaded cells cover.
func (g *Grid) cutStarts(r readings) []platform.Point {
	type position struct{ at, w float64 }
	covered, all := 0.0, 0.0
	for _, k := range g.inside {
		w := g.cells[k].w
		all += w
		covered += min(w, r.p[k]/(0.5*r.peak))
	}
	const directions = 12
	starts := make([]platform.Point, directions)
	line := make([]position, len(g.inside))
	for i := range starts {
		turn := 2 * math.Pi * float64(i) / directions
		sin, cos := math.Sincos(turn)
		for j, k := range g.inside {
			c := g.cells[k].centroid
			line[j] = position{cos*c[0] + sin*c[1], g.cells[k].w}
		}
		slices.SortFunc(line, func(a, b position) int { return cmp.Compare(a.at, b.at) })
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

// patches returns the pressure of the cut within one cell.
func (u cut) patches(c *cell) []patch {
	return []patch{{part: c.part.halfPlane(u.n, u.d), f: u.f, exponent: 1}}
}

// cutModel predicts readings under a cut with parameters as cutOf takes them.
func (g *Grid) cutModel(peak float64) model {
	return func(x []float64, c *cell, slope []float64) float64 {
		u := cutOf(x)
		var turn, out float64
		scale := peak / g.cellArea
		s := uniformLoad(c.part.moments, scale)
		switch depth := u.d - u.n[0]*c.centroid[0] - u.n[1]*c.centroid[1]; {
		case depth <= -c.part.reach:
			s = integrals{}
		case depth < c.part.reach:
			s, turn, out = u.cellIntegrals(c, depth, scale)
		}
		if slope != nil {
			slope[0], slope[1], slope[2] = turn, out, s.value
			if len(x) > 3 {
				slope[3], slope[4] = s.moment[0], s.moment[1]
			}
		}
		return u.f.c*s.value + u.f.grad[0]*s.moment[0] + u.f.grad[1]*s.moment[1]
	}
}

// cellIntegrals returns the area and first moments of the part of a cell on the
// inner side of the line, and the derivatives of its load with respect to the
// angle of the line and to d; all times scale. depth is the distance of the line
// from the centroid of the cell, positive where the centroid is inside, mm.
//
// The integrals over the cell are sums over edges by Green's theorem. Where the
// boundary crosses the line, the segment of the line inside the cell adds the
// difference of one antiderivative at its two ends.
func (u cut) cellIntegrals(c *cell, depth, scale float64) (s integrals, turn, out float64) {
	n, t := u.n, platform.Point{-u.n[1], u.n[0]}
	tHome := t[0]*c.centroid[0] + t[1]*c.centroid[1]
	f0 := u.f.at(platform.Point{c.centroid[0] + depth*n[0], c.centroid[1] + depth*n[1]})
	f1 := u.f.grad[0]*t[0] + u.f.grad[1]*t[1]
	at := func(p platform.Point, sign float64) {
		v := t[0]*p[0] + t[1]*p[1] // along the line
		s.value += sign * depth * v / 2
		s.moment[0] += sign * depth / 6 * (2*depth*n[0]*v + t[0]*v*v)
		s.moment[1] += sign * depth / 6 * (2*depth*n[1]*v + t[1]*v*v)
		load, lever := f0*v+f1*v*v/2, f0*v*v/2+f1*v*v*v/3
		out += sign * load
		turn -= sign * (lever + tHome*load) // the line moves by -(t·r) a radian at the point r
	}
	poly := c.part.outline
	for i := range poly {
		a := platform.Point{poly[i][0] - c.centroid[0], poly[i][1] - c.centroid[1]}
		j := (i + 1) % len(poly)
		b := platform.Point{poly[j][0] - c.centroid[0], poly[j][1] - c.centroid[1]}
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
		s.value += green / 2
		s.moment[0] += green * (a[0] + b[0]) / 6
		s.moment[1] += green * (a[1] + b[1]) / 6
	}
	s.moment[0] += s.value * c.centroid[0]
	s.moment[1] += s.value * c.centroid[1]
	return integrals{s.value * scale, platform.Point{s.moment[0] * scale, s.moment[1] * scale}}, turn * scale, out * scale
}
