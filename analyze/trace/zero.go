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
	T     float64   // s since the first frame, from when it holds
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
type zeroer struct {
	level   []float64 // counts: the zero in force
	known   bool      // from the start, so that none is looked for
	found   bool
	late    bool      // it was found, or put right, after the first window
	history []Zero    // by time
	shift   []float64 // what observe returns

	now, last window
	quiet     int // how many windows up to last were quiet, one after the other
	windows   int // judged so far

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

// newZeroer begins with the zero of a strip, known or taken; nil is 0 counts.
func newZeroer(cells int, zero []float64, known bool) *zeroer {
	z := &zeroer{level: make([]float64, cells), shift: make([]float64, cells), noise: make([]float64, cells), known: known, found: known}
	copy(z.level, zero)
	for _, w := range []*window{&z.now, &z.last} {
		w.sum, w.squares = make([]uint64, cells), make([]uint64, cells)
	}
	z.keep(math.Inf(-1))
	return z
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
	return z.judge()
}

// judge decides what the window that is full means for the zero.
func (z *zeroer) judge() (shift []float64) {
	load := z.now.load / float64(z.now.n)
	switch {
	case !z.known && z.now.flat() && (load < -quietN || !z.found && load < offsetsN):
		shift = z.find()
		z.quiet = 1
	case z.now.flat() && math.Abs(load) <= quietN:
		if z.quiet >= 2 {
			z.follow(&z.last)
		}
		z.quiet++
	default:
		z.end()
	}
	z.now, z.last = z.last, z.now
	z.now.clear()
	z.windows++
	return shift
}

// find takes the window that is full for unloaded, and all zeros so far for
// wrong by as much as the one in force.
func (z *zeroer) find() (shift []float64) {
	for k, sum := range z.now.sum {
		z.shift[k] = float64(sum)/float64(z.now.n) - z.level[k]
		z.level[k] += z.shift[k]
		for _, h := range z.history {
			h.Level[k] += z.shift[k]
		}
	}
	z.found, z.late = true, z.late || z.windows > 0
	return z.shift
}

// follow moves the zero towards a quiet window.
func (z *zeroer) follow(w *window) {
	n := float64(w.n)
	for k := range z.level {
		sum := float64(w.sum[k])
		z.level[k] += zeroGain * (sum/n - z.level[k])
		z.noise[k] += max(0, float64(w.squares[k])-sum*sum/n)
	}
	z.noiseN += w.n - 1
}

// end says that the quiet is over: the zero it left, where it moved the zero at
// all, is the one to come back to for the load that follows.
func (z *zeroer) end() {
	if z.quiet > 2 {
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
func (z *zeroer) finish() (shift []float64) {
	if z.windows == 0 && z.now.n > 0 {
		return z.judge()
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
