package cells

import (
	"math"
	"slices"

	"aplomb/device/platform"
)

const (
	// ghostShare is the share of the largest reading above which a cell that
	// nothing touches is a ghost: from there on it would count as contact.
	crosstalkShare = 0.01
	// farApart is the cosine below which two cells lie on opposite sides.
	oppositeCosine = -0.5
	// A cell that is partly inside is taken to bear at most this many times the
	// largest reading on the part inside: pressure within a cell varies.
	maxPressureRatio = 1.5
	// beside is the part of a cell inside from which nothing it reads is strange.
	minInside = 0.3
	// Seats are tried half a standard deviation apart, but no closer than a
	// tenth of the pitch, up to so many deviations, or so many pitches, to either side.
	seatSDs, seatPitches = 3, 2
	// A platform is measured with a ruler, to a millimetre: its outline may lie
	// this much farther out, mm.
	rulerMM = 0.5
)

// A ghost shows in the cells beside the outline, which touch nothing: with idle
// lines afloat they read what their row and column lead round to them. But so
// do they where the strip does not lie as its profile says. So ghosts are what
// no seat of the strip explains, on opposite sides of the platform.
//
// The same is seen where a platform is larger than the outline in its shoe's
// file. Ghosts within the outline, where every cell may be loaded, cannot be
// told from load.

// ghosts returns the cells that read load where none can be, and the share of
// the load they make up.
func (w *Monitor) crosstalk() (haunted []*cellState, share float64) {
	largest, all := 0.0, 0.0
	for k := range w.cells {
		s := &w.cells[k]
		largest, all = max(largest, s.total), all+max(0, s.total)
	}
	var strange []*cellState
	for k := range w.cells {
		if s := &w.cells[k]; s.inside < minInside && s.total > crosstalkShare*largest && !s.stuck && s.jumpLoads == 0 {
			strange = append(strange, s)
		}
	}
	strange = slices.DeleteFunc(strange, func(s *cellState) bool { return w.explainedBySeat(s, platform.Point{}, largest) })
	if !opposite(strange) || w.someSeatExplains(strange, largest) {
		return nil, 0
	}
	for _, s := range strange {
		share += s.total / all
	}
	return strange, share
}

// explains says whether a cell may read what it does where the strip is off by
// d, or half a step of a seat more, and the outline farther out.
func (w *Monitor) explainedBySeat(s *cellState, d platform.Point, largest float64) bool {
	room := max(w.seatStep()/2, rulerMM)
	o := w.strip.CellOutline(s.Row, s.Col)
	for i, q := range o {
		for axis := range q {
			half := q[axis] - s.centre[axis]
			o[i][axis] = s.centre[axis] + d[axis] + half + math.Copysign(room, half)
		}
	}
	inside := w.outline.Clip(o).Area() / w.strip.CellArea()
	return s.total <= (crosstalkShare+maxPressureRatio*inside)*largest
}

func (w *Monitor) seatStep() float64 {
	pitch := max(w.strip.PitchMM[0], w.strip.PitchMM[1])
	return max(w.strip.Mount.SeatSDMM/2, pitch/10)
}

// seated says whether there is a seat of the strip that explains what the cells read.
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

// opposite says whether two of the cells lie on opposite sides of the platform.
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
