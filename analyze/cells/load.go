package cells

import "slices"

const (
	// touched is the share of the largest lift from which a cell counts as
	// loaded when others are judged by it: what is less may be noise or a ghost.
	touched = 0.1
	// deafShare and hearsShare are shares of what a cell must read at least. A
	// pleat or a weak cell may stay below the bound, but not ten times; what
	// reaches three tenths of it is no dead cell.
	deafShare, hearsShare = 0.1, 0.3
	deafLoads             = 3 // loads one after the other in which a dead cell was deaf
	deafSides             = 2 // lines through it whose both sides were loaded
	leastCounts           = 10.0
	noises                = 10 // times its noise that a cell must be expected to read, to be judged
	// A loose cell jumps this many times as much as is usual under load, and in
	// this many loads: a rolling edge of contact makes healthy cells jump two or three times.
	rattles, rattleLoads = 6, 2
	// A cell is taken for stuck by its constancy alone after so many frames and seconds.
	stuckFrames, stuckS = 500, 5.0
)

// underLoad learns from a window under load.
func (w *Watch) underLoad() {
	if !w.load.on {
		w.departs()
		w.load = load{on: true, from: w.begun, frame: w.frames - w.n}
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
		s.lift += n * (s.mean - s.zero)
		s.loadBends += float64(s.bends)
		if s.full > 0 {
			if s.saturated == 0 {
				s.saturatedSince = w.begun
			}
			s.saturated += int(s.full)
		}
	}
	w.liftAll(touched * largest)
	for k := range w.cells {
		s := &w.cells[k]
		if bound, sides := w.bound(s.Cell); sides > 0 && bound >= max(leastCounts, noises*w.noise(s)) {
			s.expected += n * bound
			s.got += n * (s.mean - s.zero)
			s.sides += n * float64(sides)
			s.between += n
		}
	}
}

// End says that no more frames come: a load that is still on is judged by what
// there is of it.
func (w *Watch) End() { w.endLoad() }

// endLoad judges the cells by the load that is over.
func (w *Watch) endLoad() {
	l := w.load
	if !l.on {
		return
	}
	w.load = load{}
	if w.now-l.from >= leastLoadS {
		w.weigh(l)
		w.rattling(l)
		w.loads++
		for k := range w.cells {
			w.listen(&w.cells[k], l)
		}
	}
	for k := range w.cells {
		s := &w.cells[k]
		s.lift, s.loadBends = 0, 0
		s.expected, s.got, s.sides, s.between = 0, 0, 0, 0
	}
}

// weigh adds the load's force and moments to those of the others.
func (w *Watch) weigh(l load) {
	for k := range w.cells {
		s := &w.cells[k]
		mean := s.lift / float64(l.frames)
		s.total += mean
		force := w.newtons(s, mean)
		w.forceN += force
		w.moment[0] += force * s.centre[0]
		w.moment[1] += force * s.centre[1]
	}
}

// listen says whether a cell answered to the load.
func (w *Watch) listen(s *cell, l load) {
	if s.changed <= l.frame {
		s.sameLoads++
		w.freeze(s)
	}
	if s.between < float64(l.frames)/2 { // too seldom between loaded cells to be judged
		return
	}
	s.judged++
	switch {
	case s.got < deafShare*s.expected:
		if s.deafRun == 0 {
			s.deafSince = l.from
		}
		s.deaf++
		s.deafRun++
		if s.sides >= deafSides*s.between {
			s.enclosed++
		}
		s.missing += (s.expected - s.got) / s.between
		if s.deafRun >= deafLoads && s.enclosed >= deafLoads {
			s.dead = true
		}
	case s.got > hearsShare*s.expected:
		s.deafRun, s.enclosed = 0, 0
	}
	if s.dead && s.sameLoads >= deafLoads {
		w.freeze(s)
	}
}

// freeze takes a cell for stuck whose count did not change through a load. Where
// other cells cannot keep still, that is enough after a while; not so at 0
// counts, where a cell rests whose zero lies below the converter's.
func (w *Watch) freeze(s *cell) {
	if s.stuck || s.last == 0 || !w.still.lively {
		return
	}
	if w.frames-s.changed >= stuckFrames && w.now-s.since >= stuckS || s.dead && s.sameLoads >= deafLoads {
		s.stuck, s.stuckAt, s.stuckSince = true, s.last, s.since
	}
}

// rattling finds the cells that jumped in the load as others did not.
func (w *Watch) rattling(l load) {
	largest := 0.0
	for k := range w.cells {
		largest = max(largest, w.cells[k].lift)
	}
	usual := w.median(func(s *cell) (float64, bool) { return scatter(s.loadBends, l.frames), s.lift >= touched*largest })
	lift := w.median(func(s *cell) (float64, bool) { return s.lift, s.lift >= touched*largest })
	for k := range w.cells {
		s := &w.cells[k]
		jump := scatter(s.loadBends, l.frames)
		if s.lift < touched*largest || jump <= rattles*usual*max(1, s.lift/lift) || jump <= rattles*max(1, w.noise(s)) {
			continue
		}
		if s.rattled == 0 {
			s.rattledSince = l.from
		}
		s.rattled++
		s.rattle = max(s.rattle, jump)
	}
}

// median returns the median over the cells that have a value, 0 where none has.
func (w *Watch) median(of func(*cell) (float64, bool)) float64 {
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
