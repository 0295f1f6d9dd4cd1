package trace

import "math"

const (
	windowS      = 0.1 // s of frames judged together
	windowFrames = 5   // and at least this many
	flatN        = 5   // N: a window whose load moves by less is flat
	presumedN    = 100 // N: a flat start below this is taken for an unloaded strip with offsets
	zeroGain     = 0.3 // how far a quiet window pulls the zero towards itself
)

// Zero is what each cell read when it last carried nothing.
type Zero struct {
	T     float64   // s since the first frame, from when it holds
	Level []float64 // counts, in scan order
}

// zeroer follows the unloaded level of each cell, so that drift does not become load.
//
// It judges the frames in windows. A window is quiet when its load is flat and
// near nothing; it moves the zero only where the windows before and after it
// are quiet too, so that the first and last newtons of a rise never do.
type zeroer struct {
	level []float64 // counts: the zero in force
	known bool      // level has been seen, not presumed

	start    float64
	n        int
	lo, hi   float64 // load, N
	loadSum  float64
	sum, sq  []float64 // counts and their squares, about level
	previous *window   // the last window, where it was quiet
	spare    *window
	fresh    bool // level has moved since the last snapshot

	noise  []float64 // summed variance within quiet windows, counts²
	noiseN float64

	history []Zero

	// shift is how far the zero has just turned out to be from what was presumed
	// until then, counts; nil where it has not.
	shift      []float64
	misjudgedN int // how often that has happened
}

type window struct {
	mean, variance []float64
	n              int
	afterLoad      bool // the window before it was not quiet
}

func newZeroer(cells int) *zeroer {
	z := &zeroer{
		level: make([]float64, cells), sum: make([]float64, cells), sq: make([]float64, cells),
		noise: make([]float64, cells),
		spare: &window{mean: make([]float64, cells), variance: make([]float64, cells)},
	}
	z.history = append(z.history, Zero{T: math.Inf(-1), Level: append([]float64(nil), z.level...)})
	return z
}

// observe takes one frame at t (s) with the load (N) that the zero in force gives it.
func (z *zeroer) observe(t float64, counts []uint16, load float64) {
	if z.n > 0 && z.n >= windowFrames && t-z.start >= windowS {
		z.close()
	}
	if z.n == 0 {
		z.start, z.lo, z.hi, z.loadSum = t, load, load, 0
	}
	z.n++
	z.lo, z.hi = min(z.lo, load), max(z.hi, load)
	if z.hi-z.lo > flatN {
		return // no longer flat: its cells do not matter
	}
	z.loadSum += load
	level, sum, sq := z.level[:len(counts)], z.sum[:len(counts)], z.sq[:len(counts)]
	for k, c := range counts {
		d := float64(c) - level[k]
		sum[k] += d
		sq[k] += d * d
	}
}

// close judges the window that is full.
func (z *zeroer) close() {
	n, flat := float64(z.n), z.hi-z.lo <= flatN
	load := z.loadSum / n
	switch {
	case flat && (load < -LoadFloorN/2 || !z.known && load >= LoadFloorN/2 && load < presumedN):
		// Less than nothing, or, for want of anything better, little: the zero
		// was presumed while the strip was loaded.
		z.misjudged()
	case flat && math.Abs(load) < LoadFloorN/2:
		w := z.spare
		w.n, w.afterLoad = z.n, z.previous == nil && z.known
		for k := range w.mean {
			m := z.sum[k] / n
			w.mean[k] = z.level[k] + m
			w.variance[k] = max(0, z.sq[k]/n-m*m)
		}
		z.spare = z.previous
		if z.spare == nil {
			z.spare = &window{mean: make([]float64, len(z.level)), variance: make([]float64, len(z.level))}
		} else if !z.spare.afterLoad {
			z.settle(z.spare)
		}
		z.previous = w
	default:
		if z.previous != nil {
			z.spare, z.previous = z.previous, nil
		}
		z.snapshot()
	}
	z.n = 0
	clear(z.sum)
	clear(z.sq)
}

// presume takes a zero for what the strip reads unloaded, until more is known.
func (z *zeroer) presume(level []float64) {
	copy(z.level, level)
	copy(z.history[0].Level, level)
}

// misjudged takes the window that is full for unloaded, and all zeros so far
// for wrong by as much as the one in force.
func (z *zeroer) misjudged() {
	z.shift = make([]float64, len(z.level))
	for k := range z.shift {
		z.shift[k] = z.sum[k] / float64(z.n)
		z.level[k] += z.shift[k]
		for _, h := range z.history {
			h.Level[k] += z.shift[k]
		}
	}
	z.known, z.previous = true, nil
	z.misjudgedN++
}

// settle moves the zero towards a window that was quiet and was followed by another.
func (z *zeroer) settle(w *window) {
	gain := zeroGain
	if !z.known {
		gain, z.known = 1, true
	}
	for k := range z.level {
		z.level[k] += gain * (w.mean[k] - z.level[k])
		z.noise[k] += w.variance[k] * float64(w.n)
	}
	z.noiseN += float64(w.n - 1)
	z.fresh = true
}

// snapshot keeps the zero in force for the stretch of load that begins.
func (z *zeroer) snapshot() {
	if z.fresh {
		z.history = append(z.history, Zero{T: z.start, Level: append([]float64(nil), z.level...)})
		z.fresh = false
	}
}

// sd returns the noise of each unloaded cell, counts; at least that of rounding.
func (z *zeroer) sd() []float64 {
	sd := make([]float64, len(z.noise))
	for k := range sd {
		sd[k] = 1 / math.Sqrt(12)
		if z.noiseN > 0 {
			sd[k] = max(sd[k], math.Sqrt(z.noise[k]/z.noiseN))
		}
	}
	return sd
}
