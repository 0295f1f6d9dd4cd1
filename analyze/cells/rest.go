package cells

import (
	"math"

	"aplomb/analyze/field"
	"aplomb/device/platform"
)

const (
	zeroGain       = 0.3 // weight of a window at rest in the exponential average of the zero
	settledWindows = 5   // windows at rest after which the zero has followed a step but for a fifth
	offsetsN       = 100 // N: larger sums of all readings mean that the strip was never at rest
	longestLoadS   = 60  // s: the longest plausible stay on pointe
)

// restState is the state of the strip without load.
type restState struct {
	known       bool    // the zeros are known
	changing    bool    // most cells change from frame to frame
	windows     int     // consecutive windows at rest
	zeroUpdates int     // windows that updated the zeros since the last load
	frames      int     // number of frames in restSecondDiffs
	last        float64 // end of the last window at rest, s
	drift       ZeroDrift
}

// ZeroDrift is the change of the zeros from the rest before one load to the rest before
// the next, and the error of load and centre of pressure that it would cause without
// tracking.
type ZeroDrift struct {
	Counts    float64 // largest change of a cell over the whole recording, counts
	Cell      Cell    // that cell
	LoadN     float64 // change of all cells together over the whole recording, N
	ShiftMM   float64 // resulting shift of the centre of pressure, mm
	StepN     float64 // largest change of all cells together between two loads, N
	StepShare float64 // StepN ÷ the load, 0 to 1
	StepMM    float64 // largest shift of the centre of pressure between two loads, mm
	StepAtS   float64 // when StepMM occurred, s since the first frame
}

// setZero takes the means of the current window as the zeros.
func (w *Monitor) setZero() {
	for k := range w.cells {
		s := &w.cells[k]
		s.zero = s.mean
	}
	w.rest.known = true
}

// discardZero resets everything that was derived from zeros taken under load.
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

// updateZeros moves the zeros towards the last unloaded window. Only a window
// between two others at rest counts, so that the beginning and the end of a rise do
// not change the zeros.
func (w *Monitor) updateZeros() {
	st := &w.rest
	st.last = w.now
	st.windows++
	if st.windows < 3 {
		return
	}
	changing := 0
	for k := range w.cells {
		s := &w.cells[k]
		s.zero += zeroGain * (s.before - s.zero)
		s.restSecondDiffs += s.secondDiffsBefore
		if s.restSecondDiffs > 0 {
			changing++
		}
	}
	st.zeroUpdates++
	st.frames += w.n
	st.changing = 2*changing > len(w.cells)
}

// loadBegins compares the zeros with those before the previous load.
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

// measureDrift updates ZeroDrift with the zeros before the load that begins.
func (w *Monitor) measureDrift() {
	force, cop := w.meanLoad()
	d := &w.rest.drift
	d.Counts = 0
	var whole, step [3]float64 // force, N, and first moments, N·mm
	for k := range w.cells {
		s := &w.cells[k]
		if w.frozen(s) { // its reading is not a zero
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

// meanLoad returns the mean force of the loads so far, N, and their centre of
// pressure, mm.
func (w *Monitor) meanLoad() (force float64, cop platform.Point) {
	sum := max(w.forceN, field.LoadFloorN) // faulty cells may make it negative
	return sum / float64(w.loads), platform.Point{w.moment[0] / sum, w.moment[1] / sum}
}

// ZeroDrift returns the drift of the zeros so far; false with fewer than two
// loads.
func (w *Monitor) ZeroDrift() (ZeroDrift, bool) { return w.rest.drift, w.loads >= 2 }

// noise returns the standard deviation of one reading of a cell at rest, counts.
func (w *Monitor) noise(s *cellState) float64 { return readingSD(s.restSecondDiffs, w.rest.frames) }

// readingSD returns the standard deviation of readings from the sum of squares of
// their second differences over a number of frames. Drift and a steady rise do
// not contribute, and independent noise of variance σ² gives (1 + 4 + 1)·σ² for
// each.
func readingSD(secondDiffs float64, frames int) float64 {
	return math.Sqrt(secondDiffs / float64(6*max(1, frames)))
}
