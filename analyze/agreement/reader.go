package agreement

import (
	"math"

	"aplomb/device/reference"
)

// axes converts a position from the reference's axes to those of the platform.
type axes struct {
	at       [2]float64
	cos, sin float64
	sign     [3]float64 // of medial, over and load
}

func axesOf(o Options) axes {
	a := axes{at: o.At, sign: [3]float64{1, 1, 1}}
	a.sin, a.cos = math.Sincos(o.TurnDeg * math.Pi / 180)
	for i, flip := range o.Flip {
		if flip {
			a.sign[i] = -1
		}
	}
	return a
}

func (a *axes) of(s reference.Sample) values {
	x, y := a.sign[0]*s.MedialMM, a.sign[1]*s.OverMM
	return values{over: a.at[1] + a.sin*x + a.cos*y, medial: a.at[0] + a.cos*x - a.sin*y, load: a.sign[2] * s.LoadN}
}

// reader returns the reference's measurements at increasing times.
type reader struct {
	ref        *reference.Series
	half, step float64 // half of a frame of the strip, and the interval of the reference, s
	axes       axes

	clock *Clock
	next  int // the first sample that may still be needed
}

// begin returns a reader for times of the recording, starting with its first.
func (r *reader) begin(c *Clock) *reader {
	again := *r
	again.clock, again.next = c, 0
	return &again
}

// at returns the mean over the frame at t where the reference is much faster than the
// strip, otherwise the linear interpolation between the samples before and after; NaN
// where the reference has a gap or no sample.
func (r *reader) at(t float64) values {
	missing := values{math.NaN(), math.NaN(), math.NaN()}
	all := r.ref.Samples
	t = r.clock.Reference(t)
	mean := 2*r.half >= average*r.step
	from := t
	if mean {
		from = t - r.half
	}
	for r.next < len(all) && all[r.next].T < from {
		r.next++
	}
	if !mean {
		return r.between(t, missing)
	}
	var sum values
	n, places := 0.0, 0.0
	for _, s := range all[r.next:] {
		if s.T > t+r.half {
			break
		}
		v := r.axes.of(s)
		n++
		sum[load] += v[load]
		if !math.IsNaN(v[over]) && !math.IsNaN(v[medial]) {
			places++
			sum[over] += v[over]
			sum[medial] += v[medial]
		}
	}
	if n < r.half/r.step { // fewer than half of the samples in a frame
		return missing
	}
	return values{over: sum[over] / places, medial: sum[medial] / places, load: sum[load] / n}
}

// between interpolates between the samples before and after t.
func (r *reader) between(t float64, missing values) values {
	all := r.ref.Samples
	if r.next == len(all) {
		return missing
	}
	after := all[r.next]
	if r.next == 0 {
		if after.T == t {
			return r.axes.of(after)
		}
		return missing
	}
	before := all[r.next-1]
	if after.T-before.T > gapSteps*r.step {
		return missing
	}
	w := (t - before.T) / (after.T - before.T)
	a, b := r.axes.of(before), r.axes.of(after)
	for k := range a {
		a[k] += w * (b[k] - a[k])
	}
	return a
}
