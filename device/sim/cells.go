package sim

import (
	"math"

	"aplomb/device"
	"aplomb/device/platform"
)

// Seat is where a strip truly lies against the platform in one mounting: the
// strip's centre from the platform's centroid in mm, and its rotation from
// +medial towards +over in degrees.
type Seat struct {
	MedialMM    float64 `json:"medial_mm"`
	OverMM      float64 `json:"over_mm"`
	RotationDeg float64 `json:"rotation_deg"`
}

// Overhang describes the part of a strip that reaches beyond the platform while
// foam presses it: the foam bends it round the edge, and its cells read a share
// of the pressure at the edge. The load on it is carried by the strip itself, so
// it takes no part in the equilibrium of the platform. The zero Overhang reads nothing.
type Overhang struct {
	Share   float64 // of the pressure just inside the edge that is read just outside it
	DecayMM float64 // distance over which that falls to 1/e, mm
}

// overhangReach is the distance over which an overhang is computed, in decay lengths.
const overhangReach = 4

// edgeInset is the distance inside the outline at which the pressure is taken for an
// overhang, mm.
const edgeInset = 1.5

// Cells gives the readings of a strip's cells under a Surface. A reading is the
// force on the cell's active area divided by that area, kPa; parts of a cell
// outside the platform bear nothing but spread pressure and overhang.
type Cells struct {
	count int
	area  float64 // of one active area, mm²
	start []int32 // of each point's entries, one more than there are points
	cell  []int32 // of each entry, in the order of the scan
	share []float64
}

// NewCells places a strip under a surface with a seat that replaces that of its profile.
// A layer between platform and strip spreads the pressure by a Gaussian with the standard
// deviation spreadMM in mm; 0 is no layer.
func NewCells(s *Surface, strip *device.Strip, seat Seat, spreadMM float64, overhang Overhang) *Cells {
	g := newCellGrid(strip, seat, spreadMM, s.step)
	beyond := s.beyond(overhang)
	c := &Cells{count: strip.Cells(), area: strip.CellMM[0] * strip.CellMM[1], start: make([]int32, 1, len(s.points)+1)}
	sum := make([]float64, c.count) // force on each cell for 1 kPa on the point, mN
	var touched []int32
	add := func(at platform.Point, area float64) {
		g.each(at, func(k int32, share float64) {
			if sum[k] == 0 {
				touched = append(touched, k)
			}
			sum[k] += share * area
		})
	}
	for i := range s.points {
		q := &s.points[i]
		add(platform.Point{q.m, q.o}, q.area)
		for _, b := range beyond[i] {
			add(b.at, b.share*s.step*s.step)
		}
		for _, k := range touched {
			c.cell, c.share = append(c.cell, k), append(c.share, sum[k])
			sum[k] = 0
		}
		touched = touched[:0]
		c.start = append(c.start, int32(len(c.cell)))
	}
	return c
}

// Read sets kPa[k] to the reading of the k-th cell of the scan.
func (c *Cells) Read(im *Imprint, kPa []float64) {
	clear(kPa[:c.count])
	for i, p := range im.kPa {
		if p == 0 {
			continue
		}
		for e := c.start[i]; e < c.start[i+1]; e++ {
			kPa[c.cell[e]] += p * c.share[e]
		}
	}
	for k := range kPa[:c.count] {
		kPa[k] /= c.area
	}
}

// outside is a grid square beyond the outline that reads a share of a point's pressure.
type outside struct {
	at    platform.Point
	share float64
}

// beyond returns for each point the squares outside the outline that read a
// share of its pressure; nil lists where there is no overhang.
func (s *Surface) beyond(o Overhang) [][]outside {
	all := make([][]outside, len(s.points))
	if o.Share == 0 {
		return all
	}
	reach := overhangReach * o.DecayMM
	margin := int(math.Ceil(reach / s.step))
	inside := s.index()
	for j := -margin; j < s.rows+margin; j++ {
		for i := -margin; i < s.cols+margin; i++ {
			at := platform.Point{s.corner[0] + (float64(i)+0.5)*s.step, s.corner[1] + (float64(j)+0.5)*s.step}
			if i >= 0 && j >= 0 && i < s.cols && j < s.rows && inside[j*s.cols+i] != 0 {
				continue
			}
			d, foot := nearest(s.shape.Outline, at)
			if d > reach || d == 0 {
				continue
			}
			// From the foot on the outline straight inwards.
			n := platform.Point{(foot[0] - at[0]) / d, (foot[1] - at[1]) / d}
			in := platform.Point{foot[0] + edgeInset*n[0], foot[1] + edgeInset*n[1]}
			ii, jj := int(math.Floor((in[0]-s.corner[0])/s.step)), int(math.Floor((in[1]-s.corner[1])/s.step))
			if ii < 0 || jj < 0 || ii >= s.cols || jj >= s.rows || inside[jj*s.cols+ii] == 0 {
				continue
			}
			k := inside[jj*s.cols+ii] - 1
			all[k] = append(all[k], outside{at, o.Share * math.Exp(-d/o.DecayMM)})
		}
	}
	return all
}

// cellGrid computes how the force on a small square is divided among the cells.
type cellGrid struct {
	strip    *device.Strip
	scan     []int32 // of row·cols + col, the cell's number in the scan
	seat     platform.Point
	sin, cos float64
	sd, step float64 // mm
	col, row []float64
	table    []float64 // of below, from -reach in steps of fine
	fine     float64   // about 0.01 mm, a whole part of half the step, where below has its kinks
	reach    float64   // mm; beyond it below is 0 or 1
}

func newCellGrid(strip *device.Strip, seat Seat, spreadMM, step float64) *cellGrid {
	g := &cellGrid{
		strip: strip, scan: make([]int32, strip.Cells()), seat: platform.Point{seat.MedialMM, seat.OverMM},
		sd: spreadMM, step: step, col: make([]float64, strip.Cols), row: make([]float64, strip.Rows),
	}
	g.sin, g.cos = math.Sincos(seat.RotationDeg * math.Pi / 180)
	for k := range g.scan {
		row, col := strip.RowCol(k)
		g.scan[row*strip.Cols+col] = int32(k)
	}
	g.fine = step / 2 / math.Ceil(step/2/0.01)
	n := int(math.Ceil((6*g.sd + step/2) / g.fine))
	g.reach = float64(n) * g.fine
	g.table = make([]float64, 2*n+2)
	for i := range g.table {
		t := float64(i-n) * g.fine
		g.table[i] = (integral(t+step/2, g.sd) - integral(t-step/2, g.sd)) / step
	}
	return g
}

// each calls f with every cell that bears a part of a uniform square of side
// step at a point of the platform, and with that part. The square is taken to
// lie along the strip's axes, which keeps the sum over cells that leave no gaps at 1.
func (g *cellGrid) each(at platform.Point, f func(cell int32, share float64)) {
	dm, do := at[0]-g.seat[0], at[1]-g.seat[1]
	x, y := g.cos*dm+g.sin*do, g.cos*do-g.sin*dm // in the strip's frame
	c0, c1 := g.along(g.col, x, g.strip.PitchMM[0], g.strip.CellMM[0])
	r0, r1 := g.along(g.row, y, g.strip.PitchMM[1], g.strip.CellMM[1])
	for r := r0; r < r1; r++ {
		for c := c0; c < c1; c++ {
			if w := g.row[r] * g.col[c]; w > 1e-9 {
				f(g.scan[r*g.strip.Cols+c], w)
			}
		}
	}
}

// along sets share[i] to the part of a square's force that falls on the i-th of
// a line of cells, in the strip's frame, for those from lo up to hi; the others get nothing.
func (g *cellGrid) along(share []float64, x, pitch, width float64) (lo, hi int) {
	n, reach := len(share), g.reach
	first := func(i int) float64 { return (float64(i)-float64(n-1)/2)*pitch - width/2 } // lower end of cell i
	lo = max(0, int(math.Floor((x-reach-first(0)-width)/pitch)))
	hi = min(n, int(math.Ceil((x+reach-first(0))/pitch))+1)
	for i := lo; i < hi; i++ {
		a := first(i) - x
		share[i] = g.below(a+width) - g.below(a)
	}
	return lo, max(lo, hi)
}

// below returns the part of a uniform square of side step round 0, spread by
// the Gaussian, that lies below t: the mean over the square of the normal
// distribution function, from its integral z·Φ(z) + φ(z) by way of a table.
func (g *cellGrid) below(t float64) float64 {
	switch {
	case t <= -g.reach:
		return 0
	case t >= g.reach:
		return 1
	}
	x := (t + g.reach) / g.fine
	i := int(x)
	return g.table[i] + (x-float64(i))*(g.table[i+1]-g.table[i])
}

// integral returns ∫ Φ(s/sd) ds up to t.
func integral(t, sd float64) float64 {
	if sd == 0 {
		return max(0, t)
	}
	z := t / sd
	switch {
	case z > 8:
		return t
	case z < -8:
		return 0
	}
	return t*0.5*math.Erfc(-z/math.Sqrt2) + sd*math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
}
