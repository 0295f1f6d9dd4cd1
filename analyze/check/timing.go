package check

import (
	"math"

	"aplomb/device"
)

// rhythm is when the frames of one foot were measured and when they came. It
// takes constant time and memory, but for the holes.
type timing struct {
	frames            int64
	first, last       uint64 // strip's clock, µs
	firstNS, lastNS   int64  // arrival
	seq               int64
	backwards         int64 // frames that the strip's clock puts before the one before
	interval, arrival runningSD
	longestNS         int64
	missingSpans      []missingSpan
}

// hole is where frames are missing: the arrivals on both sides, ns.
type missingSpan struct{ from, to int64 }

// maxHoles bounds the memory. A recording with more is beyond telling where
// they are: the last one grows instead.
const maxMissingSpans = 10_000

func (r *timing) add(f *device.Frame) {
	r.frames++
	if r.frames == 1 {
		r.first, r.firstNS = f.TimeUS, f.ArrivalNS
	} else {
		step := float64(int64(f.TimeUS - r.last))
		wait := f.ArrivalNS - r.lastNS
		switch {
		case step < 0:
			r.backwards++
		case r.framesMissing(f.Seq, step):
			r.addMissing(missingSpan{r.lastNS, f.ArrivalNS})
		default:
			r.interval.add(step / 1000)
			r.arrival.add(float64(wait) / 1e6)
		}
		r.longestNS = max(r.longestNS, wait)
	}
	r.last, r.lastNS, r.seq = f.TimeUS, f.ArrivalNS, f.Seq
}

// missing says whether frames are before the one with this number, step µs
// after the one before. Without numbers a pause of more than three usual
// intervals, and 20 ms, is taken for that.
func (r *timing) framesMissing(seq int64, step float64) bool {
	if seq != device.NoSeq && r.seq != device.NoSeq {
		return seq > r.seq+1
	}
	return r.interval.n > 0 && step > max(3000*r.interval.mean, 20_000)
}

func (r *timing) addMissing(h missingSpan) {
	if len(r.missingSpans) < maxMissingSpans {
		r.missingSpans = append(r.missingSpans, h)
		return
	}
	r.missingSpans[maxMissingSpans-1].to = h.to
}

// pace returns how many seconds the strip's clock counts in one of the
// computer's; false where the recording is too short to tell.
func (r *timing) clockRatio() (ratio float64, ok bool) {
	host := float64(r.lastNS-r.firstNS) / 1e9
	if host < clockRatioS {
		return 0, false
	}
	return float64(int64(r.last-r.first)) / 1e6 / host, true
}

// spread follows mean and standard deviation (Welford, Technometrics 4 (1962) 419-420).
type runningSD struct{ n, mean, squares float64 }

func (s *runningSD) add(x float64) {
	s.n++
	d := x - s.mean
	s.mean += d / s.n
	s.squares += d * (x - s.mean)
}

func (s *runningSD) sd() float64 { return math.Sqrt(s.squares / max(1, s.n-1)) }
