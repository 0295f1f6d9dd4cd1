package cells

import "slices"

const (
	// touched is the share of the largest lift from which a cell counts as
	// loaded when others are judged by it: what is less may be noise or a ghost.
	touchedShare = 0.1
	// deafShare and hearsShare are shares of what a cell must read at least. A
	// pleat or a weak cell may stay below the bound, but not ten times; what
	// reaches three tenths of it is no dead cell.
	deadShare, aliveShare = 0.1, 0.3
	deadLoads             = 3 // loads one after the other in which a dead cell was deaf
	deadLines             = 2 // lines through it whose both sides were loaded
	leastCounts           = 10.0
	noiseTimes            = 10 // times its noise that a cell must be expected to read, to be judged
	// A loose cell jumps this many times as much as is usual under load, and in
	// this many loads: a rolling edge of contact makes healthy cells jump two or three times.
	looseTimes, looseLoads = 6, 2
	// A cell is taken for stuck by its constancy alone after so many frames and seconds.
	stuckFrames, stuckS = 500, 5.0
)

// underLoad learns from a window under load.
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

// End says that no more frames come: a load that is still on is judged by what
// there is of it.
func (w *Monitor) End() { w.endLoad() }

// endLoad judges the cells by the load that is over.
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

// weigh adds the load's force and moments to those of the others.
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

// listen says whether a cell answered to the load.
func (w *Monitor) judgeResponse(s *cellState, l load) {
	if s.changed <= l.frame {
		s.sameLoads++
		w.judgeStuck(s)
	}
	if s.judgedFrames < float64(l.frames)/2 { // too seldom between loaded cells to be judged
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

// freeze takes a cell for stuck whose count did not change through a load. Where
// other cells cannot keep still, that is enough after a while; not so at 0
// counts, where a cell rests whose zero lies below the converter's.
func (w *Monitor) judgeStuck(s *cellState) {
	if s.stuck || s.last == 0 || !w.rest.changing {
		return
	}
	if w.frames-s.changed >= stuckFrames && w.now-s.since >= stuckS || s.dead && s.sameLoads >= deadLoads {
		s.stuck, s.stuckAt, s.stuckSince = true, s.last, s.since
	}
}

// rattling finds the cells that jumped in the load as others did not.
func (w *Monitor) judgeLoose(l load) {
	largest := 0.0
	for k := range w.cells {
		largest = max(largest, w.cells[k].net)
	}
	usual := w.median(func(s *cellState) (float64, bool) {
		return readingSD(s.loadSecondDiffs, l.frames), s.net >= touchedShare*largest
	})
	lift := w.median(func(s *cellState) (float64, bool) { return s.net, s.net >= touchedShare*largest })
	for k := range w.cells {
		s := &w.cells[k]
		jump := readingSD(s.loadSecondDiffs, l.frames)
		if s.net < touchedShare*largest || jump <= looseTimes*usual*max(1, s.net/lift) || jump <= looseTimes*max(1, w.noise(s)) {
			continue
		}
		if s.jumpLoads == 0 {
			s.jumpSince = l.from
		}
		s.jumpLoads++
		s.largestJump = max(s.largestJump, jump)
	}
}

// median returns the median over the cells that have a value, 0 where none has.
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
