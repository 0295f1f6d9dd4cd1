package seat

import (
	"math"
	"slices"
)

// Limits of a pad press. They lie between the values of simulated presses that rock once
// round the platform and those of presses that do not, or that slip by 1.5 mm.
const (
	rockedPart  = 0.2                 // part of the distance to the outline beyond which a centre of pressure has a direction
	rockedGap   = 200 * math.Pi / 180 // between directions
	uncoveredMM = 0.75                // by which the platform reaches beyond the strip on both sides
	highMisfit  = 2.5                 // misfit above which a better fit and a slip are searched for
	slipMM      = 0.5                 // between the seats of its halves
)

// gap returns the largest angle, rad, seen from the platform's centroid, in which no map
// of the fit has its centre of pressure near the outline. It is below π where the
// platform was rocked to all sides.
func (f *found) gap() float64 {
	g, half := f.problem.grid, f.problem.shape.half
	sin, cos := math.Sincos(f.v[turn])
	var at []float64
	for _, r := range f.problem.maps {
		var x, y, sum float64
		for k, p := range r.p {
			c := g.centre(k)
			x, y, sum = x+p*c[0], y+p*c[1], sum+p
		}
		x, y = x/sum, y/sum
		m := (f.v[medial] + cos*x - sin*y) / (half[0] + f.v[width])
		o := (f.v[over] + sin*x + cos*y) / (half[1] + f.v[depth])
		if math.Hypot(m, o) > rockedPart {
			at = append(at, math.Atan2(o, m))
		}
	}
	if len(at) == 0 {
		return 2 * math.Pi
	}
	slices.Sort(at)
	gap := at[0] + 2*math.Pi - at[len(at)-1]
	for i := range at[1:] {
		gap = max(gap, at[i+1]-at[i])
	}
	return gap
}

// covered reports whether the strip reaches beyond the platform on at least one side
// along each axis.
func (f *found) covered() bool {
	g, half := f.problem.grid, f.problem.shape.half
	cells := [2]int{g.cols, g.rows}
	for i, grown := range []float64{half[0] + f.v[width], half[1] + f.v[depth]} {
		strip := float64(cells[i]) * g.pitch[i] / 2
		if grown-strip-math.Abs(f.v[medial+i]) > uncoveredMM {
			return false
		}
	}
	return true
}

// slipped reports whether the strip moved during a press: the seats of its first and
// second half differ by more than slipMM when outline and gains are close to those of the
// whole press. A press that one seat explains has not slipped.
func (f *found) slipped() bool {
	if f.scale < highMisfit {
		return false
	}
	defer f.problem.lay(&f.v)
	maps := len(f.planes)
	a, b := f.part(0, maps/2), f.part(maps/2, maps)
	return math.Hypot(a.medial-b.medial, a.over-b.over) > slipMM
}

// part returns the seat estimated from maps from to to-1, in order of time.
func (f *found) part(from, to int) pose {
	p := *f.problem
	p.maps = p.maps[from:to]
	at := state{v: f.v, gains: f.gains, planes: f.planes[from:to]}
	at = at.clone()
	p.after(f, &at)
	p.minimise(&at, 1e-2)
	return at.v.pose()
}
