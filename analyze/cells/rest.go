package cells

import (
	"math"

	"aplomb/analyze/field"
	"aplomb/device/platform"
)

const (
	zeroGain       = 0.3 // how far a window at rest pulls the zero towards itself
	settledWindows = 5   // at rest after which the zero has followed (all but a fifth of a step)
	offsetsN       = 100 // N: what cells may read together without load; more is a strip never at rest
	longestLoadS   = 60  // s: nobody stays on pointe for longer
)

// stillness is what is known of the strip without load.
type restState struct {
	known       bool    // there is a zero
	changing    bool    // most cells change from frame to frame
	windows     int     // at rest, one after the other
	zeroUpdates int     // of these, how many moved the zero since the last load
	frames      int     // that restBends are over
	last        float64 // s, when it was last at rest
	drift       ZeroDrift
}

// Drift is what the zero did between the rest before one load and the rest
// before the next: the worst, and what it would do to load and centre of
// pressure if nothing followed it.
type ZeroDrift struct {
	Counts    float64 // of the cell that moved most over the whole recording, counts
	Cell      Cell    // that cell
	LoadN     float64 // of all cells together over the whole recording, N
	ShiftMM   float64 // that it would move the centre of pressure, mm
	StepN     float64 // the largest between two loads, N
	StepShare float64 // ÷ the load
	StepMM    float64 // the largest move of the centre of pressure between two loads, mm
	StepAtS   float64 // when, s
}

// takeZero takes the window for one at rest.
func (w *Monitor) setZero() {
	for k := range w.cells {
		s := &w.cells[k]
		s.zero = s.mean
	}
	w.rest.known = true
}

// forget drops all that was found with a zero that was none.
func (w *Monitor) discardZero() {
	for k := range w.cells {
		s := &w.cells[k]
		fresh := cellState{Cell: s.Cell, k: s.k, centre: s.centre, inside: s.inside, last: s.last, changed: s.changed, since: s.since,
			changedBits: s.changedBits, stepsByTopBit: s.stepsByTopBit, sum: s.sum, step: s.step, secondDiffs: s.secondDiffs, atFullScale: s.atFullScale, mean: s.mean, before: s.before}
		*s = fresh
	}
	w.rest = restState{}
	w.load, w.loads, w.loaded, w.forceN, w.moment = load{}, 0, 0, 0, platform.Point{}
}

// rest learns from a window at rest. It moves the zero only by a window that
// has such windows before and after it, so that the first and last newtons of
// a rise never do.
func (w *Monitor) atRest() {
	st := &w.rest
	st.last = w.now
	st.windows++
	if st.windows < 3 {
		return
	}
	restless := 0
	for k := range w.cells {
		s := &w.cells[k]
		s.zero += zeroGain * (s.before - s.zero)
		s.restSecondDiffs += s.secondDiffsBefore
		if s.restSecondDiffs > 0 {
			restless++
		}
	}
	st.zeroUpdates++
	st.frames += w.n
	st.changing = 2*restless > len(w.cells)
}

// departs compares the zero with that before the last load, now that another begins.
func (w *Monitor) loadBegins() {
	st := &w.rest
	settled := st.zeroUpdates >= settledWindows
	st.zeroUpdates = 0
	if w.loads == 0 {
		for k := range w.cells {
			s := &w.cells[k]
			s.first, s.settled = s.zero, s.zero
		}
		return
	}
	if !settled {
		return
	}
	w.measureDrift()
	for k := range w.cells {
		w.cells[k].settled = w.cells[k].zero
	}
}

func (w *Monitor) measureDrift() {
	force, cop := w.meanLoad()
	d := &w.rest.drift
	d.Counts = 0
	var whole, step [3]float64 // N and their moments, N·mm
	for k := range w.cells {
		s := &w.cells[k]
		if w.frozen(s) { // its value is no zero
			continue
		}
		moved, since := s.zero-s.first, s.zero-s.settled
		if math.Abs(moved) > math.Abs(d.Counts) {
			d.Counts, d.Cell = moved, s.Cell
		}
		perCount := w.perCount(s)
		for i, v := range [3]float64{1, s.centre[0] - cop[0], s.centre[1] - cop[1]} {
			whole[i] += perCount * moved * v
			step[i] += perCount * since * v
		}
	}
	d.LoadN, d.ShiftMM = whole[0], math.Hypot(whole[1], whole[2])/force
	stepN, stepMM := step[0], math.Hypot(step[1], step[2])/force
	if math.Abs(stepN) > math.Abs(d.StepN) {
		d.StepN, d.StepShare = stepN, math.Abs(stepN)/force
	}
	if stepMM > d.StepMM {
		d.StepMM, d.StepAtS = stepMM, w.now
	}
}

// typical returns the mean load of the loads so far, N, and where it acts, mm.
func (w *Monitor) meanLoad() (force float64, cop platform.Point) {
	sum := max(w.forceN, field.LoadFloorN) // broken cells may pull it below nothing
	return sum / float64(w.loads), platform.Point{w.moment[0] / sum, w.moment[1] / sum}
}

// Drift returns what the zero has done so far; false with fewer than two loads.
func (w *Monitor) ZeroDrift() (ZeroDrift, bool) { return w.rest.drift, w.loads >= 2 }

// noise is the standard deviation of one reading of a cell at rest, counts.
func (w *Monitor) noise(s *cellState) float64 { return readingSD(s.restSecondDiffs, w.rest.frames) }

// scatter is the standard deviation of readings from the squares of how much
// one step differs from the next, summed over so many frames. Neither drift nor
// a steady rise adds to them, and independent noise of variance σ² gives
// (1 + 4 + 1)·σ² for each.
func readingSD(bends float64, frames int) float64 {
	return math.Sqrt(bends / float64(6*max(1, frames)))
}
