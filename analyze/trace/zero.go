package trace

import (
	"math"
	"slices"

	"aplomb/analyze/field"
)

const (
	windowS      = 0.1                  // s of frames judged together
	windowFrames = 5                    // and at least this many
	flatN        = 5                    // N: a window whose load moves by no more is flat
	quietN       = field.LoadFloorN / 2 // N: a flat window no farther from nothing is quiet
	offsetsN     = 100                  // N: what cells may read together, unloaded, before their zero is known
	zeroGain     = 0.3                  // how far a quiet window pulls the zero towards itself
)

// Zero is what each cell read when it last carried nothing.
type Zero struct {
	T     float64   // s since the first frame, from when it holds, or on a track when it was so
	Level []float64 // counts, in scan order
}

// zeroer follows the unloaded level of each cell, so that drift does not become load.
//
// It judges the frames in windows. The first flat one whose cells read little is
// taken for unloaded, and so is any flat one below nothing: until then the strip
// was loaded, and all that was made of it is restated. After that a window is
// quiet when its load is flat and near nothing; it moves the zero only where the
// windows before and after it are quiet too, so that the first and last newtons
// of a rise never do.
//
// It cannot look ahead. Who has all frames keeps the past, whose last word is a
// track of zeros to read them again with where it matters. Who follows them as
// they come has no past, and there a load that falls by more than half to
// something level, within 75 N of nothing, is over: the zero found then is taken
// for that of the whole load, and put right if the load goes on falling. Offsets
// of more than 100 N stay load there.
type zeroer struct {
	level   []float64 // counts: the zero in force
	levelN  float64   // what it reads, N above the zero of the beginning; kept for past only
	track   []Zero    // known from the start, so that none is looked for
	past    *past     // nil where frames are followed as they come
	found   bool
	late    bool      // it was found, or put right, after the first window
	history []Zero    // by time
	shift   []float64 // what observe returns

	now, last window
	quiet     int     // how many windows up to last were quiet, one after the other
	still     int     // how many up to last were level, one after the other
	lastN     float64 // load of last, where it was flat
	peakN     float64 // largest load since the strip was quiet
	windows   int     // judged so far

	noise  []float64 // sum of squares about the mean of each window that moved the zero, counts²
	noiseN int       // its degrees of freedom
}

// window sums up frames. The cells of one that is not flat do not matter and
// are not summed to its end.
type window struct {
	from, lo, hi, load float64 // s; N, load being a sum
	n                  int
	sum, squares       []uint64 // counts, counts²
}

// newZeroer begins with the zero of a strip, nil being 0 counts, or with a track
// of zeros from an earlier run, nil where there is none.
func newZeroer(cells int, zero []float64, track []Zero) *zeroer {
	z := &zeroer{level: make([]float64, cells), shift: make([]float64, cells), noise: make([]float64, cells)}
	copy(z.level, zero)
	for _, w := range []*window{&z.now, &z.last} {
		w.sum, w.squares = make([]uint64, cells), make([]uint64, cells)
	}
	if track != nil {
		z.track, z.history, z.found = track, slices.Clone(track), true
		return z
	}
	z.keep(math.Inf(-1))
	return z
}

// lead puts the zero of the track in force before a frame at t (s): once a
// window, and after missing frames.
func (z *zeroer) lead(t float64) {
	if z.now.n == 0 || t-z.now.from > 2*windowS {
		between(z.level, z.track, t+windowS/2)
	}
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

// observe takes one frame at t (s) with the load (N) that the zero in force
// gives it. Where all zeros so far turn out to be wrong, it returns by how many
// counts, good until the next call; otherwise nil.
func (z *zeroer) observe(t float64, counts []uint16, load float64) (shift []float64) {
	z.now.add(t, counts, load)
	if z.now.n < windowFrames || t-z.now.from < windowS {
		return nil
	}
	return z.judge(t)
}

// judge decides what the window that is full means for the zero; t is when its last frame was.
func (z *zeroer) judge(t float64) (shift []float64) {
	load := z.now.load / float64(z.now.n)
	if z.past != nil {
		z.past.keep(&z.now, t, z.levelN)
	}
	switch flat := z.now.flat(); {
	case flat && z.track == nil && (load < -quietN || !z.found && load < offsetsN || z.over(load)):
		shift = z.find()
		z.quiet = 1
	case flat && math.Abs(load) <= quietN:
		if z.quiet >= 2 {
			z.follow(&z.last)
		}
		z.quiet++
	default:
		z.end()
	}
	z.watch(load, shift != nil)
	z.now, z.last = z.last, z.now
	z.now.clear()
	z.windows++
	return shift
}

// over says whether a load has just come to its end, by how far it has fallen.
func (z *zeroer) over(load float64) bool {
	return z.past == nil && z.found && load > quietN && z.still+1 >= soonest && math.Abs(load-z.lastN) <= levelN &&
		load <= min(reachN, z.peakN/2)
}

// watch keeps what over needs to know.
func (z *zeroer) watch(load float64, zeroed bool) {
	if zeroed {
		load = 0
	}
	z.peakN = max(z.peakN, z.now.hi)
	if z.quiet > 0 {
		z.peakN = 0
	}
	switch {
	case !z.now.flat():
		z.still = 0
	case z.still > 0 && math.Abs(load-z.lastN) <= levelN:
		z.still++
	default:
		z.still = 1
	}
	z.lastN = load
}

// find takes the window that is full for unloaded, and all zeros so far for
// wrong by as much as the one in force. After a load it is drift, but without
// one the strip was loaded before.
func (z *zeroer) find() (shift []float64) {
	was := z.levelN
	for k, sum := range z.now.sum {
		z.shift[k] = float64(sum)/float64(z.now.n) - z.level[k]
		z.level[k] += z.shift[k]
		for _, h := range z.history {
			h.Level[k] += z.shift[k]
		}
	}
	z.late = z.late || z.windows > 0 && (!z.found || z.peakN < field.LoadFloorN)
	z.found = true
	if z.past != nil {
		z.levelN = z.past.read(z.level)
		z.past.moved += z.levelN - was
	}
	return z.shift
}

// follow moves the zero towards a quiet window.
func (z *zeroer) follow(w *window) {
	n := float64(w.n)
	for k := range z.level {
		sum := float64(w.sum[k])
		if z.track == nil {
			z.level[k] += zeroGain * (sum/n - z.level[k])
		}
		z.noise[k] += max(0, float64(w.squares[k])-sum*sum/n)
	}
	z.noiseN += w.n - 1
	if z.past != nil {
		z.levelN = z.past.read(z.level)
	}
}

// end says that the quiet is over: the zero it left, where it moved the zero at
// all, is the one to come back to for the load that follows.
func (z *zeroer) end() {
	if z.quiet > 2 && z.track == nil {
		z.keep(z.last.from)
	}
	z.quiet = 0
}

// keep puts the zero in force down as holding from t.
func (z *zeroer) keep(t float64) {
	z.history = append(z.history, Zero{T: t, Level: slices.Clone(z.level)})
}

// finish ends the frames. A recording shorter than a window is judged by what
// there is.
func (z *zeroer) finish(t float64) (shift []float64) {
	if z.windows == 0 && z.now.n > 0 {
		return z.judge(t)
	}
	z.end()
	return nil
}

// sd returns the noise of each unloaded cell, counts; at least that of rounding.
func (z *zeroer) sd() []float64 {
	sd := make([]float64, len(z.noise))
	for k := range sd {
		sd[k] = 1 / math.Sqrt(12)
		if z.noiseN > 0 {
			sd[k] = max(sd[k], math.Sqrt(z.noise[k]/float64(z.noiseN)))
		}
	}
	return sd
}
