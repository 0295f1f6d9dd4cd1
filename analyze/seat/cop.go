package seat

import (
	"math"

	"aplomb/device/platform"
)

// centre returns the centre of a cell (row·cols + col) in the strip's axes, mm.
func (g *grid) centre(cell int) platform.Point {
	row, col := cell/g.cols, cell%g.cols
	return platform.Point{
		(float64(col) - float64(g.cols-1)/2) * g.pitch[0],
		(float64(row) - float64(g.rows-1)/2) * g.pitch[1],
	}
}

// centres returns the centres of all cells, in the strip's axes, mm.
func (g *grid) centres() []platform.Point {
	at := make([]platform.Point, g.rows*g.cols)
	for k := range at {
		at[k] = g.centre(k)
	}
	return at
}

// withinCell is the standard deviation of where the load of a cell acts within
// it, in pitches. It matters under a press on its very edge, where a few cells
// bear all the load. It is our assumption.
const withinCell = 0.1

// beyondSD is the relative standard deviation of the load that the fit puts
// beyond the strip. It is our assumption.
const beyondSD = 0.5

// loadedMaps sets CoPs and Contacts for every map under the seat s. The load of a cell
// acts where the fitted model has the centre of what the cell reads, and at the cell's
// centre where there is no fit of the map's kind.
func (s *Seat) loadedMaps(in Input, fits [2]*found) {
	s.CoPs = make([]CoP, len(in.Maps))
	var held []heldMap
	for kind, f := range fits {
		if f != nil {
			f.problem.lay(&f.v)
		}
		for i, m := range in.Maps {
			if m.Kind != Kind(kind) || load(in, m.KPa) < leastLoadN {
				continue
			}
			r := newReading(in, m)
			at := newGrid(in.Strip).centres()
			var rest beyond
			if f != nil {
				p := f.through(&r)
				rest = f.lever(&r, p, at)
				if Kind(kind) == Hold {
					held = append(held, f.held(i, &r, p))
				}
			}
			s.CoPs[i] = s.centreOfPressure(in, &r, at, rest)
		}
	}
	if f := fits[Hold]; f != nil {
		s.Contacts = make([]Contact, len(in.Maps))
		f.contacts(s, held)
	}
}

// beyond is the load that the platform puts beyond the strip, as a reading of
// one cell, kPa, and its first moments in the strip's axes, kPa·mm.
type beyond struct {
	load  float64
	first platform.Point
}

// centreOfPressure is that of one map whose cells bear their load at places at,
// in the strip's axes, mm.
func (s *Seat) centreOfPressure(in Input, r *reading, at []platform.Point, rest beyond) CoP {
	total, c := rest.load, rest.first // the latter in the strip's axes
	for k, p := range r.p {
		total += p
		c[0] += p * at[k][0]
		c[1] += p * at[k][1]
	}
	c[0] /= total
	c[1] /= total
	var mm, mo, oo float64 // variances in the strip's axes
	if rest.load > 0 {
		w := beyondSD * rest.load / total
		dm, do := w*(rest.first[0]/rest.load-c[0]), w*(rest.first[1]/rest.load-c[1])
		mm, mo, oo = dm*dm, dm*do, do*do
	}
	for k, p := range r.p {
		g, w := in.GainSD*p/total, withinCell*p/total
		dm, do := g*(at[k][0]-c[0]), g*(at[k][1]-c[1])
		mm += dm*dm + w*w*in.Strip.PitchMM[0]*in.Strip.PitchMM[0]
		oo += do*do + w*w*in.Strip.PitchMM[1]*in.Strip.PitchMM[1]
		mo += dm * do
	}
	sin, cos := math.Sincos(s.RotationDeg * math.Pi / 180)
	d := platform.Point{cos*c[0] - sin*c[1], sin*c[0] + cos*c[1]} // from the strip's centre
	out := CoP{At: platform.Point{s.Offset[0] + d[0], s.Offset[1] + d[1]}, LoadN: (total - rest.load) * in.Strip.CellArea() / 1000, BeyondN: rest.load * in.Strip.CellArea() / 1000}
	out.UBeyondN = beyondSD * out.BeyondN
	// Derivatives with respect to medial, over and rotation in degrees.
	j := [2][3]float64{{1, 0, -d[1] * math.Pi / 180}, {0, 1, d[0] * math.Pi / 180}}
	for a := range 2 {
		for b := range 2 {
			for x := range 3 {
				for y := range 3 {
					out.Cov[a][b] += j[a][x] * s.Cov[x][y] * j[b][y]
				}
			}
		}
	}
	out.Cov[0][0] += cos*cos*mm - 2*sin*cos*mo + sin*sin*oo
	out.Cov[1][1] += sin*sin*mm + 2*sin*cos*mo + cos*cos*oo
	across := sin*cos*(mm-oo) + (cos*cos-sin*sin)*mo
	out.Cov[0][1] += across
	out.Cov[1][0] += across
	return out
}

// through returns the plane that fits a map best, all that maps share being as
// found. The scene of the fit must be laid.
func (f *found) through(r *reading) plane {
	p := *f.problem
	p.maps = []reading{*r}
	s := state{v: f.v, gains: f.gains, planes: []plane{p.grid.through(r, p.at.ground.curve)}}
	kPa, slope := make([]float64, len(r.p)), make([]plane, len(r.p))
	for range 6 { // all else stays, so that the plane is soon found
		p.settle(&s, kPa, slope)
	}
	return s.planes[0]
}

// lever sets at to where the load of each cell acts under one map, in the
// strip's axes, and fills the cells of the map that are not believed. It returns
// the load beyond the strip. The scene of the fit must be laid.
func (f *found) lever(r *reading, of plane, at []platform.Point) beyond {
	p := f.problem
	kPa := make([]float64, len(r.p))
	p.read(of, kPa, nil)
	for k := range r.p {
		if math.IsInf(r.s[k], 1) {
			r.p[k] = (1 + f.gains[k]) * kPa[k]
		}
	}
	return p.grid.lever(p.at.layer, &p.at.ground, of, at)
}

// lever sets at to the centre of the pressure that each cell reads, in the
// strip's axes; cells that read nothing keep what at has. It returns the load
// beyond the strip.
func (g *grid) lever(l *layer, b *ground, p plane, at []platform.Point) (rest beyond) {
	sum := make([]float64, len(at))
	first := make([]platform.Point, len(at))
	for j, y := range g.y {
		for _, a := range l.samples[l.rows[j]:l.rows[j+1]] {
			x := g.x[a.column]
			f := p[0] + p[1]*x + p[2]*y - b.stiffness*a.recess
			if f <= 0 {
				continue
			}
			if b.curve > 0 {
				f, _ = answer(f, b.curve)
			}
			sx, sy := &b.sx[a.column], &b.sy[j]
			v := f * a.cover
			left := v
			for r := range sy.n {
				for c := range sx.n {
					w := v * sx.w[c] * sy.w[r]
					left -= w
					k := (sy.first+r)*g.cols + sx.first + c
					sum[k] += w
					first[k][0] += w * x
					first[k][1] += w * y
				}
			}
			if left > 1e-3*v { // less is what shares leave out
				left /= sub * sub
				rest.load += left
				rest.first[0] += left * x
				rest.first[1] += left * y
			}
		}
	}
	for k, s := range sum {
		if s > 1e-9 {
			at[k] = platform.Point{first[k][0] / s, first[k][1] / s}
		}
	}
	return rest
}
