package seat

import (
	"math"
	"slices"
)

// Limits of a pad press, between what the simulator's presses reach that rock once
// round the platform and those that do not or slip by 1.5 mm.
const (
	rockedPart  = 0.2                 // of the way to the outline, from which on a centre of pressure has a direction
	rockedGap   = 200 * math.Pi / 180 // between directions
	uncoveredMM = 0.75                // by which the platform reaches beyond the strip on both sides
	highMisfit  = 2.5                 // above which a press is searched for a better fit and for a slip
	slipMM      = 0.5                 // between the seats of its halves
)

// gap is the largest angle, seen from the platform's centroid, in which no centre
// of pressure of the fit's maps lies near the outline, rad: below π where the
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

// covered says whether along each axis the strip reaches beyond the platform on
// at least one side.
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

// slipped says whether the strip moved during a press: the seats of its first and
// second half differ by more than slipMM, the outline and the gains being about
// those of all. A press that one seat explains did not slip.
func (f *found) slipped() bool {
	if f.scale < highMisfit {
		return false
	}
	defer f.problem.lay(&f.v)
	maps := len(f.planes)
	a, b := f.part(0, maps/2), f.part(maps/2, maps)
	return math.Hypot(a.medial-b.medial, a.over-b.over) > slipMM
}

// part returns the seat of some of the maps, which are in the order of time.
func (f *found) part(from, to int) pose {
	p := *f.problem
	p.maps = p.maps[from:to]
	at := state{v: f.v, gains: f.gains, planes: f.planes[from:to]}
	at = at.clone()
	p.after(f, &at)
	p.minimise(&at, 1e-2)
	return at.v.pose()
}
