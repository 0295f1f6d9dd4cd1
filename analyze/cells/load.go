package cells

import "slices"

const (
	// touchedShare is the share of the largest net reading from which a cell counts
	// as loaded when other cells are judged by it: less may be noise or crosstalk.
	touchedShare = 0.1
	// A cell does not respond where it reads less than deadShare of its bound, and
	// responds where it reads more than aliveShare of it. A pleat or a weak cell may
	// lower a reading, but not to a tenth.
	deadShare, aliveShare = 0.1, 0.3
	deadLoads             = 3    // consecutive loads without response that make a cell dead
	deadLines             = 2    // lines through it with loaded cells on both sides
	leastCounts           = 10.0 // least bound, counts, at which a cell is judged
	noiseTimes            = 10   // least bound at which a cell is judged, in standard deviations of its noise
	// A loose cell jumps looseTimes as much as other cells under load, in at least
	// looseLoads loads. The moving edge of the contact makes sound cells jump two or
	// three times as much.
	looseTimes, looseLoads = 6, 2
	// A cell whose counts do not change for this many frames and seconds is stuck.
	stuckFrames, stuckS = 500, 5.0
)

// underLoad adds a window under load to the sums of the current load.
func (w *Monitor) underLoad() {
	if !w.load.on {
		w.loadBegins()
		w.load = load{on: true, from: w.windowStart, frame: w.frames - w.n}
	}
	w.load.frames += w.n
	w.loaded += w.n
	n := float64(w.n)
	largest := 0.0
	for k := range w.cells {
		s := &w.cells[k]
		if !w.frozen(s) {
			largest = max(largest, s.mean-s.zero)
		}
		s.net += n * (s.mean - s.zero)
		s.loadSecondDiffs += float64(s.secondDiffs)
		if s.atFullScale > 0 {
			if s.saturated == 0 {
				s.saturatedSince = w.windowStart
			}
			s.saturated += int(s.atFullScale)
		}
	}
	w.logNetCounts(touchedShare * largest)
	for k := range w.cells {
		s := &w.cells[k]
		if bound, sides := w.bound(s.Cell); sides > 0 && bound >= max(leastCounts, noiseTimes*w.noise(s)) {
			s.expected += n * bound
			s.got += n * (s.mean - s.zero)
			s.lines += n * float64(sides)
			s.judgedFrames += n
		}
	}
}

// End is called after the last frame: a load that is still on is judged by its
// frames so far.
func (w *Monitor) End() { w.endLoad() }

// endLoad ends the current load, if there is one, and judges the cells by it.
func (w *Monitor) endLoad() {
	l := w.load
	if !l.on {
		return
	}
	w.load = load{}
	if w.now-l.from >= leastLoadS {
		w.addLoad(l)
		w.judgeLoose(l)
		w.loads++
		for k := range w.cells {
			w.judgeResponse(&w.cells[k], l)
		}
	}
	for k := range w.cells {
		s := &w.cells[k]
		s.net, s.loadSecondDiffs = 0, 0
		s.expected, s.got, s.lines, s.judgedFrames = 0, 0, 0, 0
	}
}

// addLoad adds force and moments of a load to the sums over loads.
func (w *Monitor) addLoad(l load) {
	for k := range w.cells {
		s := &w.cells[k]
		mean := s.net / float64(l.frames)
		s.total += mean
		force := w.newtons(s, mean)
		w.forceN += force
		w.moment[0] += force * s.centre[0]
		w.moment[1] += force * s.centre[1]
	}
}

// judgeResponse judges whether a cell responded to a load.
func (w *Monitor) judgeResponse(s *cellState, l load) {
	if s.changed <= l.frame {
		s.sameLoads++
		w.judgeStuck(s)
	}
	if s.judgedFrames < float64(l.frames)/2 { // it was between loaded cells for too short a time
		return
	}
	s.judged++
	switch {
	case s.got < deadShare*s.expected:
		if s.unansweredRun == 0 {
			s.unansweredSince = l.from
		}
		s.unanswered++
		s.unansweredRun++
		if s.lines >= deadLines*s.judgedFrames {
			s.enclosed++
		}
		s.missing += (s.expected - s.got) / s.judgedFrames
		if s.unansweredRun >= deadLoads && s.enclosed >= deadLoads {
			s.dead = true
		}
	case s.got > aliveShare*s.expected:
		s.unansweredRun, s.enclosed = 0, 0
	}
	if s.dead && s.sameLoads >= deadLoads {
		w.judgeStuck(s)
	}
}

// judgeStuck marks a cell as stuck whose counts did not change during a load,
// provided that most cells change at rest. A cell at 0 counts is left out: its
// zero may be below the converter's range.
func (w *Monitor) judgeStuck(s *cellState) {
	if s.stuck || s.last == 0 || !w.rest.changing {
		return
	}
	if w.frames-s.changed >= stuckFrames && w.now-s.since >= stuckS || s.dead && s.sameLoads >= deadLoads {
		s.stuck, s.stuckAt, s.stuckSince = true, s.last, s.since
	}
}

// judgeLoose finds the cells whose readings jumped far more in a load than those
// of other cells.
func (w *Monitor) judgeLoose(l load) {
	largest := 0.0
	for k := range w.cells {
		largest = max(largest, w.cells[k].net)
	}
	usual := w.median(func(s *cellState) (float64, bool) {
		return readingSD(s.loadSecondDiffs, l.frames), s.net >= touchedShare*largest
	})
	usualNet := w.median(func(s *cellState) (float64, bool) { return s.net, s.net >= touchedShare*largest })
	for k := range w.cells {
		s := &w.cells[k]
		jump := readingSD(s.loadSecondDiffs, l.frames)
		if s.net < touchedShare*largest || jump <= looseTimes*usual*max(1, s.net/usualNet) || jump <= looseTimes*max(1, w.noise(s)) {
			continue
		}
		if s.jumpLoads == 0 {
			s.jumpSince = l.from
		}
		s.jumpLoads++
		s.largestJump = max(s.largestJump, jump)
	}
}

// median returns the median over the cells for which of returns a value, 0 where
// there are none.
func (w *Monitor) median(of func(*cellState) (float64, bool)) float64 {
	w.scratch = w.scratch[:0]
	for k := range w.cells {
		if v, ok := of(&w.cells[k]); ok {
			w.scratch = append(w.scratch, v)
		}
	}
	if len(w.scratch) == 0 {
		return 0
	}
	slices.Sort(w.scratch)
	return w.scratch[len(w.scratch)/2]
}
