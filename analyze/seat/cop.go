package seat

import (
	"math"
	"slices"

	"aplomb/analyze/internal/parallel"
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

// spot is the point at which the load of one cell acts.
type spot struct {
	at     platform.Point // in the strip's axes, mm
	thirds [3]float64     // the parts of the load in the thirds of the bearing outline's depth, from the back
}

// thirds divides the depth of the bearing outline into three equal parts.
type thirds struct {
	sin, cos float64 // of the strip's rotation
	over     float64 // of the strip's centre, mm
	lines    [2]float64
}

func (s *Seat) thirds() thirds {
	lo, hi := s.Bearing.Bounds()
	t := thirds{over: s.Offset[1], lines: [2]float64{lo[1] + (hi[1]-lo[1])/3, hi[1] - (hi[1]-lo[1])/3}}
	t.sin, t.cos = math.Sincos(s.RotationDeg * math.Pi / 180)
	return t
}

// of returns the third, 0 to 2 from the back, in which a point in the strip's axes lies.
func (t *thirds) of(x, y float64) int {
	switch o := t.over + t.sin*x + t.cos*y; {
	case o < t.lines[0]:
		return 0
	case o < t.lines[1]:
		return 1
	}
	return 2
}

// spots returns a spot at the centre of every cell.
func (g *grid) spots(t *thirds) []spot {
	all := make([]spot, g.rows*g.cols)
	for k := range all {
		c := g.centre(k)
		all[k].at = c
		all[k].thirds[t.of(c[0], c[1])] = 1
	}
	return all
}

// withinCell is the standard deviation of the point at which the load of a cell acts
// within it, in pitches. It matters for a press on the very edge, where a few cells bear
// all the load. It is our assumption.
const withinCell = 0.1

// beyondSD is the relative standard deviation of the load beyond the strip that the fit
// computes. It is our assumption.
const beyondSD = 0.5

// loadedMaps sets CoPs and Contacts for every map, given the seat s. The load of a cell
// acts at the centre of the pressure that the fitted model has on that cell, or at the
// cell's centre where there is no fit of that kind of map. e are the model's errors of
// the evidence.
func (s *Seat) loadedMaps(in Input, fits [2]*found, e *modelErrors) {
	s.CoPs = make([]CoP, len(in.Maps))
	t := s.thirds()
	spots := newGrid(in.Strip).spots(&t)
	var held []heldMap
	for kind, f := range fits {
		if f != nil {
			f.problem.lay(&f.v)
		}
		var maps []int
		for i, m := range in.Maps {
			if m.Kind == Kind(kind) && load(in, m.KPa) >= leastLoadN {
				maps = append(maps, i)
			}
		}
		if Kind(kind) == Hold && f != nil {
			held = make([]heldMap, len(maps))
		}
		parallel.Parts(len(maps), func(from, to int) {
			var own *found
			if f != nil {
				own = f.withOwnRoom()
			}
			for k := from; k < to; k++ {
				i := maps[k]
				r, at := newReading(in, in.Maps[i]), slices.Clone(spots)
				var rest beyond
				if own != nil {
					p := own.through(&r)
					rest = own.lever(&r, p, &t, at)
					if Kind(kind) == Hold {
						held[k] = own.held(i, &r, p)
						held[k].thirds = loadThirds(&r, at, &rest)
					}
				}
				s.CoPs[i] = s.centreOfPressure(in, &r, at, rest)
			}
		})
	}
	if f := fits[Hold]; f != nil {
		s.Contacts = make([]Contact, len(in.Maps))
		f.contacts(s, e, held, contactDraws)
	}
}

// beyond is the load of the platform beyond the strip, expressed as the reading of one
// cell, kPa, and its first moments in the strip's axes, kPa·mm.
type beyond struct {
	load   float64
	first  platform.Point
	thirds [3]float64 // of load, in the thirds of the bearing outline's depth
}

// loadThirds returns the shares of the load in the thirds of the bearing outline's depth.
func loadThirds(r *reading, at []spot, rest *beyond) [3]float64 {
	sum, total := rest.thirds, rest.load
	for k, p := range r.p {
		total += p
		for i, part := range at[k].thirds {
			sum[i] += p * part
		}
	}
	for i := range sum {
		sum[i] /= total
	}
	return sum
}

// centreOfPressure returns the centre of pressure of one map, given the points at which
// the loads of its cells act, in the strip's axes, mm.
func (s *Seat) centreOfPressure(in Input, r *reading, at []spot, rest beyond) CoP {
	total, c := rest.load, rest.first // the latter in the strip's axes
	for k, p := range r.p {
		total += p
		c[0] += p * at[k].at[0]
		c[1] += p * at[k].at[1]
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
		dm, do := g*(at[k].at[0]-c[0]), g*(at[k].at[1]-c[1])
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

// settledKPa is the convergence criterion for the plane of a map: the change of its
// pressure within the platform in one step, kPa.
const settledKPa = 0.01

// maxSettling bounds the number of steps for a plane. Most planes take 2 or 3; where the
// line of lift-off moves from point to point of the grid some take 10.
const maxSettling = 20

// through returns the plane that fits a map best while all shared parameters stay at
// their fitted values. The fit's scene must have been computed.
func (f *found) through(r *reading) plane {
	p := *f.problem
	p.maps = []reading{*r}
	s := state{v: f.v, gains: f.gains, planes: []plane{f.nearest(r)}}
	kPa, slope := make([]float64, len(r.p)), make([]plane, len(r.p))
	for range maxSettling {
		was := s.planes[0]
		p.settle(&s, kPa, slope)
		now := &s.planes[0]
		if math.Abs(now[0]-was[0])+math.Abs(now[1]-was[1])*p.shape.half[0]+math.Abs(now[2]-was[2])*p.shape.half[1] < settledKPa {
			break
		}
	}
	return s.planes[0]
}

// nearest returns the plane of the fitted map that is most like r when both are scaled to
// one load, multiplied by the ratio of the loads.
func (f *found) nearest(r *reading) plane {
	var at plane
	load, least := total(r.p), math.Inf(1)
	for i := range f.problem.maps {
		m := &f.problem.maps[i]
		ratio, difference := load/total(m.p), 0.0
		for k, p := range r.p {
			difference += math.Abs(p - ratio*m.p[k])
		}
		if difference < least {
			least = difference
			for a, v := range f.planes[i] {
				at[a] = ratio * v
			}
		}
	}
	return at
}

func total(all []float64) (s float64) {
	for _, v := range all {
		s += v
	}
	return s
}

// lever sets at to the points, in the strip's axes, at which the loads of the cells act
// under one map, and fills in the cells that are not valid. It returns the load beyond
// the strip. The fit's scene must have been computed.
func (f *found) lever(r *reading, of plane, t *thirds, at []spot) beyond {
	p := f.problem
	if slices.ContainsFunc(r.s, func(s float64) bool { return math.IsInf(s, 1) }) {
		kPa := make([]float64, len(r.p))
		p.read(of, kPa, nil)
		for k := range r.p {
			if math.IsInf(r.s[k], 1) {
				r.p[k] = (1 + f.gains[k]) * kPa[k]
			}
		}
	}
	return p.grid.lever(p.at.layer, &p.at.ground, of, t, at)
}

// lever sets at to the centre of the modelled pressure on each cell, in the strip's axes;
// a cell without pressure keeps its value. It returns the load beyond the strip.
func (g *grid) lever(l *layer, b *ground, p plane, t *thirds, at []spot) (rest beyond) {
	all := make([]borne, len(at))
	row := make([]borne, g.cols) // contribution of one row of points to each column of cells
	for j, y := range g.y {
		samples := l.samples[l.rows[j]:l.rows[j+1]]
		if len(samples) == 0 {
			continue
		}
		clear(row)
		sy := &b.sy[j]
		alongY := sy.sum()
		for i := range samples {
			a := &samples[i]
			x := g.x[a.column]
			f := p[0] + p[1]*x + p[2]*y - b.stiffness*a.recess
			if f <= 0 {
				continue
			}
			if b.curve > 0 {
				f, _ = answer(f, b.curve)
			}
			v := f * a.cover
			third := t.of(x, y)
			sx := &b.sx[a.column]
			for c := range sx.n {
				w := v * sx.w[c]
				k := &row[sx.first+c]
				k.first[0] += w * x
				k.thirds[third] += w
			}
			if left := v - v*sx.sum()*alongY; left > 1e-3*v { // smaller differences are the weights that shares leaves out
				left /= sub * sub
				rest.load += left
				rest.first[0] += left * x
				rest.first[1] += left * y
				rest.thirds[third] += left
			}
		}
		for r := range sy.n {
			cells := all[(sy.first+r)*g.cols:]
			for c := range row {
				from, to, w := &row[c], &cells[c], sy.w[r]
				to.first[0] += w * from.first[0]
				to.first[1] += w * y * from.sum()
				for i, v := range from.thirds {
					to.thirds[i] += w * v
				}
			}
		}
	}
	for k := range all {
		cell := &all[k]
		if sum := cell.sum(); sum > 1e-9 {
			at[k].at = platform.Point{cell.first[0] / sum, cell.first[1] / sum}
			for i, v := range cell.thirds {
				at[k].thirds[i] = v / sum
			}
		}
	}
	return rest
}

// borne is the pressure on a cell, times the points per cell: in each third of the
// bearing outline's depth, and its first moments in the strip's axes.
type borne struct {
	thirds [3]float64     // kPa
	first  platform.Point // kPa·mm
}

func (b *borne) sum() float64 { return b.thirds[0] + b.thirds[1] + b.thirds[2] }
