package baseline

import (
	"math"
	"slices"

	"aplomb/analyze/field"
)

// Limits by which a Tracker judges a window. They are our own choice.
const (
	windowS      = 0.1                  // s of frames judged together
	windowFrames = 5                    // and at least this many
	flatN        = 5                    // N: a window whose load varies by no more is flat
	quietN       = field.LoadFloorN / 2 // N: a flat window whose load is at most this in magnitude is quiet
	offsetsN     = 100                  // N: largest sum of unloaded cells before their zero is known
	zeroGain     = 0.3                  // share of its difference by which a quiet window moves the zero
)

// Tracker tracks the zero of every cell of one foot, frame by frame.
//
// The first flat window with small readings counts as unloaded, and so does any flat one
// with a negative load: the strip was then loaded until that window, and the loads so far
// are corrected. After that a window is quiet when it is flat and its load is close to
// zero. A quiet window moves the zero only if the windows before and after it are quiet
// too, so that the first and last newtons of a relevé never move it.
//
// A Tracker uses only past frames. With a History it leaves all other decisions to
// Revise. Without one, as in a live view, a load ends when it has decreased by more than
// half to a constant level within 75 N of zero: the zero found then is applied to the
// whole load, and is corrected if the load decreases further. Offsets of more than 100 N
// count as load there.
type Tracker struct {
	level   []float64 // the zero in force, counts
	zeroN   float64   // load of the zero in force above the first zero, N; kept for the history only
	known   []Zero    // zeros to interpolate; nil where the zero is tracked
	history *History  // nil while frames are still arriving
	pressed bool      // see Pressed
	found   bool      // the strip has been unloaded
	late    bool      // the zero was found, or corrected, after the first window
	zeros   []Zero    // that were in force, by time
	shift   []float64 // what Observe returns

	now, last window
	quiet     int     // number of quiet windows in a row, up to last
	steady    int     // number of steady windows in a row, up to last
	lastN     float64 // load of last where it was flat, N
	peakN     float64 // largest load since the strip was quiet, N
	windows   int     // judged so far

	squares    []float64 // sum of squares about the mean of each window that moved the zero, counts²
	squaresDOF int       // its degrees of freedom
}

// NewTracker returns a Tracker for a number of cells. zero is the initial zero, counts,
// where nil is 0. Where known is not nil the Tracker interpolates those zeros instead of
// tracking. history may be nil.
func NewTracker(cells int, zero []float64, known []Zero, history *History) *Tracker {
	t := &Tracker{level: make([]float64, cells), shift: make([]float64, cells), squares: make([]float64, cells)}
	copy(t.level, zero)
	for _, w := range []*window{&t.now, &t.last} {
		w.sum, w.squares = make([]uint64, cells), make([]uint64, cells)
	}
	if known != nil {
		t.known, t.zeros, t.found = known, slices.Clone(known), true
		return t
	}
	t.history = history
	t.keep(math.Inf(-1))
	return t
}

// Pressed sets, for a Tracker without a History, whether a hand may be pressing the strip
// now. A decrease of load then does not end it, since a hand presses slowly and with any
// load.
func (t *Tracker) Pressed(is bool) { t.pressed = is }

// Level returns the zero in force, counts in scan order. It changes with the next
// frame.
func (t *Tracker) Level() []float64 { return t.level }

// Zeros returns the zeros that were in force, by time, and whether the zero in
// between is interpolated; otherwise each was in force until the next.
func (t *Tracker) Zeros() (zeros []Zero, interpolated bool) { return t.zeros, t.known != nil }

// Found reports whether the strip has been unloaded, and late whether that was found, or
// corrected, after the first window.
func (t *Tracker) Found() (found, late bool) { return t.found, t.late }

// Forget drops zeros that were no longer in force at a time, s.
func (t *Tracker) Forget(before float64) {
	old := 0
	for old+1 < len(t.zeros) && t.zeros[old+1].T < before {
		old++
	}
	t.zeros = slices.Delete(t.zeros, 0, old)
}

// Noise returns the standard deviation of each unloaded cell, counts. It is at least that
// of rounding to whole counts, 1/√12.
func (t *Tracker) Noise() []float64 {
	sd := make([]float64, len(t.squares))
	for k := range sd {
		sd[k] = 1 / math.Sqrt(12)
		if t.squaresDOF > 0 {
			sd[k] = max(sd[k], math.Sqrt(t.squares[k]/float64(t.squaresDOF)))
		}
	}
	return sd
}

// Begin sets the zero in force to the interpolated one for a frame at a time, s. It does
// so once per window and after missing frames. Without known zeros it does nothing.
func (t *Tracker) Begin(at float64) {
	if t.known != nil && (t.now.n == 0 || at-t.now.from > 2*windowS) {
		Interpolate(t.level, t.known, at+windowS/2)
	}
}

// Observe adds one frame at a time, s, with its load above the zero in force, N. Where
// all zeros so far turn out to be wrong, it returns their error, counts in scan order and
// valid until the next call; otherwise nil.
func (t *Tracker) Observe(at float64, counts []uint16, load float64) (shift []float64) {
	t.now.add(at, counts, load)
	if t.now.n < windowFrames || at-t.now.from < windowS {
		return nil
	}
	return t.judge(at)
}

// Finish ends the frames; at is the time of the last one, s. A recording shorter than a
// window is judged by its frames. Finish returns the same as Observe.
func (t *Tracker) Finish(at float64) (shift []float64) {
	if t.windows == 0 && t.now.n > 0 {
		return t.judge(at)
	}
	t.endQuiet()
	return nil
}

// judge updates the zero from a complete window; at is the time of its last frame.
func (t *Tracker) judge(at float64) (shift []float64) {
	load := t.now.load / float64(t.now.n)
	if t.history != nil {
		t.history.add(&t.now, at, t.zeroN)
	}
	switch flat := t.now.flat(); {
	case flat && t.known == nil && (load < -quietN || !t.found && load < offsetsN || t.loadIsOver(load)):
		shift = t.find()
		t.quiet = 1
	case flat && math.Abs(load) <= quietN:
		if t.quiet >= 2 {
			t.moveTowards(&t.last)
		}
		t.quiet++
	default:
		t.endQuiet()
	}
	t.note(load, shift != nil)
	t.now, t.last = t.last, t.now
	t.now.clear()
	t.windows++
	return shift
}

// loadIsOver reports whether a load has just ended, by its decrease. With a History it is
// always false, since Revise decides that later.
func (t *Tracker) loadIsOver(load float64) bool {
	return t.history == nil && t.found && !t.pressed && load > quietN && t.steady+1 >= steadyWindows && math.Abs(load-t.lastN) <= maxDriftN &&
		load <= min(maxClimbN, t.peakN/2)
}

// note stores what loadIsOver needs of a window.
func (t *Tracker) note(load float64, zeroed bool) {
	if zeroed {
		load = 0
	}
	t.peakN = max(t.peakN, t.now.hi)
	if t.quiet > 0 {
		t.peakN = 0
	}
	switch {
	case !t.now.flat():
		t.steady = 0
	case t.steady > 0 && math.Abs(load-t.lastN) <= maxDriftN:
		t.steady++
	default:
		t.steady = 1
	}
	t.lastN = load
}

// find sets the zero in force to the mean of the window, which was unloaded. All zeros so
// far are then wrong by the same amount as the one in force, and are corrected. After a
// load the difference is drift; otherwise the strip was loaded before, and the zero is
// late.
func (t *Tracker) find() (shift []float64) {
	before := t.zeroN
	for k, sum := range t.now.sum {
		t.shift[k] = float64(sum)/float64(t.now.n) - t.level[k]
		t.level[k] += t.shift[k]
		for _, z := range t.zeros {
			z.Level[k] += t.shift[k]
		}
	}
	t.late = t.late || t.windows > 0 && (!t.found || t.peakN < field.LoadFloorN)
	t.found = true
	if t.history != nil {
		t.zeroN = t.history.loadOf(t.level)
		t.history.corrected += t.zeroN - before
	}
	return t.shift
}

// moveTowards moves the zero towards a quiet window and adds the window's noise.
func (t *Tracker) moveTowards(w *window) {
	n := float64(w.n)
	for k := range t.level {
		sum := float64(w.sum[k])
		if t.known == nil {
			t.level[k] += zeroGain * (sum/n - t.level[k])
		}
		t.squares[k] += max(0, float64(w.squares[k])-sum*sum/n)
	}
	t.squaresDOF += w.n - 1
	if t.history != nil {
		t.zeroN = t.history.loadOf(t.level)
	}
}

// endQuiet ends a sequence of quiet windows. If they moved the zero, the new zero is in
// force during the load that follows.
func (t *Tracker) endQuiet() {
	if t.quiet > 2 && t.known == nil {
		t.keep(t.last.from)
	}
	t.quiet = 0
}

// keep appends the zero in force to the list, as in force from a time on, s.
func (t *Tracker) keep(from float64) {
	t.zeros = append(t.zeros, Zero{T: from, Level: slices.Clone(t.level)})
}

// window accumulates frames that are judged together. A window that is not flat does not
// use its cells, so their sums are incomplete.
type window struct {
	from, lo, hi, load float64 // s; smallest, largest and sum of the load, N
	n                  int     // frames
	sum, squares       []uint64
}

func (w *window) flat() bool { return w.hi-w.lo <= flatN }

func (w *window) add(t float64, counts []uint16, load float64) {
	if w.n == 0 {
		w.from, w.lo, w.hi = t, load, load
	}
	w.n++
	w.lo, w.hi = min(w.lo, load), max(w.hi, load)
	if !w.flat() {
		return
	}
	w.load += load
	sum, squares := w.sum[:len(counts)], w.squares[:len(counts)]
	for k, c := range counts {
		sum[k] += uint64(c)
		squares[k] += uint64(c) * uint64(c)
	}
}

func (w *window) clear() {
	w.n, w.load = 0, 0
	clear(w.sum)
	clear(w.squares)
}
