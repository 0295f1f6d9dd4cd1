package cells

import (
	"math"
	"slices"

	"aplomb/device/platform"
)

const (
	// crosstalkShare is the share of the largest reading above which a cell outside
	// the platform shows crosstalk: a larger reading would count as contact.
	crosstalkShare = 0.01
	// oppositeCosine is the cosine of the angle between two cells, seen from the
	// origin, below which they are on opposite sides.
	oppositeCosine = -0.5
	// maxPressureRatio bounds the pressure on the part of a cell inside the outline,
	// relative to the largest reading: pressure varies within a cell.
	maxPressureRatio = 1.5
	// loadableInside is the fraction of a cell inside the outline from which any reading
	// of it is possible.
	loadableInside = 0.3
	// seatSDs and seatPitches bound the seats that are tried, to either side, in
	// standard deviations and in pitches; the larger bound counts. The step is half a
	// standard deviation, at least a tenth of the pitch.
	seatSDs, seatPitches = 3, 2
	// rulerMM is how far outside its description the outline may be, mm: a platform
	// is measured with a ruler, to a millimetre.
	rulerMM = 0.5
)

// Crosstalk shows in the cells outside the platform: where unselected lines float,
// these cells read current through the other cells of their row and column. A seat
// that differs from that of the profile loads cells outside the outline as well, on
// one side. Crosstalk is therefore diagnosed from cells on opposite sides of the
// platform whose readings no seat explains.
//
// A platform that is larger than the outline in its shoe's file gives the same
// readings. Crosstalk within the outline cannot be distinguished from load.

// crosstalk returns the cells outside the platform whose readings no seat
// explains, and their share of the load; none where there is no crosstalk.
func (w *Monitor) crosstalk() (suspects []*cellState, share float64) {
	largest, all := 0.0, 0.0
	for k := range w.cells {
		s := &w.cells[k]
		largest, all = max(largest, s.total), all+max(0, s.total)
	}
	for k := range w.cells {
		if s := &w.cells[k]; s.inside < loadableInside && s.total > crosstalkShare*largest && !s.stuck && s.jumpLoads == 0 {
			suspects = append(suspects, s)
		}
	}
	suspects = slices.DeleteFunc(suspects, func(s *cellState) bool { return w.explainedBySeat(s, platform.Point{}, largest) })
	if !opposite(suspects) || w.someSeatExplains(suspects, largest) {
		return nil, 0
	}
	for _, s := range suspects {
		share += s.total / all
	}
	return suspects, share
}

// explainedBySeat reports whether the reading of a cell is possible where the
// strip is shifted by d, up to half a step further, and the outline lies rulerMM
// farther out. largest is the largest reading.
func (w *Monitor) explainedBySeat(s *cellState, d platform.Point, largest float64) bool {
	room := max(w.seatStep()/2, rulerMM)
	o := w.strip.CellOutline(s.Row, s.Col)
	for i, q := range o {
		for axis := range q {
			half := q[axis] - s.centre[axis]
			o[i][axis] = s.centre[axis] + d[axis] + half + math.Copysign(room, half)
		}
	}
	possible := func(inside float64) bool {
		return s.total <= (crosstalkShare+maxPressureRatio*inside/w.strip.CellArea())*largest
	}
	// No more than this is inside, and it is quick to compute.
	lo, hi := o.Bounds()
	wide, deep := min(hi[0], w.hi[0])-max(lo[0], w.lo[0]), min(hi[1], w.hi[1])-max(lo[1], w.lo[1])
	return possible(max(0, wide)*max(0, deep)) && possible(w.outline.Clip(o).Area())
}

// seatStep returns the distance between the seats that are tried, mm.
func (w *Monitor) seatStep() float64 {
	pitch := max(w.strip.PitchMM[0], w.strip.PitchMM[1])
	return max(w.strip.Mount.SeatSDMM/2, pitch/10)
}

// someSeatExplains reports whether one seat of the strip explains the readings of
// all these cells.
func (w *Monitor) someSeatExplains(cells []*cellState, largest float64) bool {
	step := w.seatStep()
	far := max(seatSDs*w.strip.Mount.SeatSDMM, seatPitches*max(w.strip.PitchMM[0], w.strip.PitchMM[1]))
	steps := int(math.Ceil(far / step))
	for i := -steps; i <= steps; i++ {
		for j := -steps; j <= steps; j++ {
			d := platform.Point{step * float64(i), step * float64(j)}
			if !slices.ContainsFunc(cells, func(s *cellState) bool { return !w.explainedBySeat(s, d, largest) }) {
				return true
			}
		}
	}
	return false
}

// opposite reports whether two of the cells are on opposite sides of the
// platform.
func opposite(cells []*cellState) bool {
	for i, a := range cells {
		for _, b := range cells[:i] {
			p, q := a.centre, b.centre
			if p[0]*q[0]+p[1]*q[1] < oppositeCosine*math.Hypot(p[0], p[1])*math.Hypot(q[0], q[1]) {
				return true
			}
		}
	}
	return false
}
