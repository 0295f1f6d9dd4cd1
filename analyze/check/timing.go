package check

import (
	"math"

	"aplomb/device"
)

// timing records the times at which the frames of one foot were measured and arrived. It
// takes constant time for a frame and constant memory, except for the missing spans.
type timing struct {
	frames            int64
	last              uint64 // by the strip's clock, µs
	firstNS, lastNS   int64  // of arrival
	seq               int64
	backwards         int64 // frames with an earlier time than the one before, by the strip's clock
	interval, arrival runningSD
	longestNS         int64
	missingSpans      []missingSpan
	beginning         prompt    // of the frames that arrived in the first endS
	end               [2]prompt // of the last two blocks of endS, by the time of arrival
	blockNS           int64     // arrival of the first frame of the last block
}

// endS is the length of the beginning and of the end of a recording, s, from which the rate
// of the clock is computed. A backlog, which a busy host reads all at once, mostly ends
// within it.
const endS = 1.0

// prompt is the frame that arrived with the least delay: the time by the strip's clock, µs,
// and of arrival, ns.
type prompt struct {
	us    uint64
	ns    int64
	known bool
}

// add takes a frame.
func (p *prompt) add(f *device.Frame) {
	if !p.known || f.ArrivalNS-p.ns < 1000*int64(f.TimeUS-p.us) {
		*p = prompt{f.TimeUS, f.ArrivalNS, true}
	}
}

// missingSpan is an interval in which frames are missing: the arrival times
// before and after it, ns.
type missingSpan struct{ from, to int64 }

// maxMissingSpans bounds the memory. Beyond it the last span is extended.
const maxMissingSpans = 10_000

// add takes a frame.
func (r *timing) add(f *device.Frame) {
	r.frames++
	if r.frames == 1 {
		r.firstNS, r.blockNS = f.ArrivalNS, f.ArrivalNS
	} else {
		step := float64(int64(f.TimeUS - r.last))
		wait := f.ArrivalNS - r.lastNS
		switch {
		case step < 0:
			r.backwards++
		case f.AfterLoss || r.framesMissing(f.Seq, step):
			r.addMissing(missingSpan{r.lastNS, f.ArrivalNS})
		default:
			r.interval.add(step / 1000)
			r.arrival.add(float64(wait) / 1e6)
		}
		r.longestNS = max(r.longestNS, wait)
	}
	r.last, r.lastNS, r.seq = f.TimeUS, f.ArrivalNS, f.Seq
	r.addDelay(f)
}

// addDelay takes a frame for the rate of the clock.
func (r *timing) addDelay(f *device.Frame) {
	if f.ArrivalNS-r.firstNS <= 1e9*endS {
		r.beginning.add(f)
	}
	if f.ArrivalNS-r.blockNS > 1e9*endS {
		r.end[0], r.end[1], r.blockNS = r.end[1], prompt{}, f.ArrivalNS
	}
	r.end[1].add(f)
}

// framesMissing reports whether frames are missing before the one with number
// seq, step µs after the one before. Without numbers an interval of more than
// three mean intervals and 20 ms counts as missing frames.
func (r *timing) framesMissing(seq int64, step float64) bool {
	if seq != device.NoSeq && r.seq != device.NoSeq {
		return seq > r.seq+1
	}
	return r.interval.n > 0 && step > max(3000*r.interval.mean, 20_000)
}

// addMissing adds a span of missing frames.
func (r *timing) addMissing(h missingSpan) {
	if len(r.missingSpans) < maxMissingSpans {
		r.missingSpans = append(r.missingSpans, h)
		return
	}
	r.missingSpans[maxMissingSpans-1].to = h.to
}

// clockRatio returns the seconds of the strip's clock in one second of the
// computer's; false where the recording is too short. It compares the frames that
// arrived with the least delay at the beginning and at the end, because a serial line
// may hold frames from before it was opened, and a busy host reads late.
func (r *timing) clockRatio() (ratio float64, ok bool) {
	if r.lastNS-r.firstNS < 1e9*clockRatioS {
		return 0, false
	}
	end := r.end[1]
	if before := r.end[0]; before.known && r.lastNS-before.ns < 3e9*endS && before.ns-end.ns < 1000*int64(before.us-end.us) {
		end = before
	}
	host := float64(end.ns-r.beginning.ns) / 1e9
	return float64(int64(end.us-r.beginning.us)) / 1e6 / host, true
}

// runningSD computes mean and standard deviation one value at a time (Welford,
// Technometrics 4 (1962) 419-420).
type runningSD struct{ n, mean, squares float64 }

func (s *runningSD) add(x float64) {
	s.n++
	d := x - s.mean
	s.mean += d / s.n
	s.squares += d * (x - s.mean)
}

func (s *runningSD) sd() float64 { return math.Sqrt(s.squares / max(1, s.n-1)) }
