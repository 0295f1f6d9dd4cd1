package agreement

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/stats"
)

// Limits of the synchronisation. They are our own choice.
const (
	tapAtMostS   = 0.3    // a longer load is no tap
	tapApartS    = 0.1    // unloaded time before and after a tap
	tapShare     = 0.02   // share of the largest load that a tap exceeds
	tapNoises    = 8      // and standard deviations of the unloaded signal
	quantileStep = 0.3633 // from the 5 % to the 10 % quantile of a standard normal distribution
	maxTaps      = 60     // of one instrument; more are taken for vibration
	matchWithinS = 0.025
	usualS       = 0.003 // assumed error of the time of a tap, for choosing between lines with equal numbers of taps
	maxRate      = 5e-4  // by which clocks differ at most; quartz clocks are assumed to differ by less than 2e-4
	rateFromS    = 10    // span of taps from which the rate is estimated
	rateU        = 1e-4  // standard uncertainty of the rate where it is not estimated
)

// Clock converts a time of the recording to the reference's clock, by a straight line.
type Clock struct {
	By      string  `json:"by"`       // taps or trigger
	OffsetS float64 `json:"offset_s"` // the reference's time at the recording's first frame
	RatePPM float64 `json:"rate_ppm"` // rate of the reference's clock relative to the strip's, less 1, millionths
	// Taps is the number of matched taps, out of the numbers detected by each instrument;
	// 0 for a trigger.
	Taps          int `json:"taps"`
	TapsStrip     int `json:"taps_strip"`
	TapsReference int `json:"taps_reference"`
	// RateAssumed reports that the rates are assumed to be equal, because they cannot be
	// estimated.
	RateAssumed bool     `json:"rate_assumed"`
	ResidualS   *float64 `json:"residual_s,omitempty"` // standard deviation about the line; absent where two points define it
	US          float64  `json:"u_s"`                  // largest standard uncertainty of a time within the recording

	fit lineFit
}

// Reference returns the reference's time at t, s since the recording's first frame.
func (c *Clock) Reference(t float64) float64 {
	return c.fit.y + (1+c.fit.rate)*(t-c.fit.x)
}

// lineFit is a line through (x, y) with slope 1 + rate.
type lineFit struct {
	x, y, rate float64
	n          int
	sxx        float64 // Σ(x − mean)²
	residual   float64 // standard deviation about the line; NaN without degrees of freedom
	assumed    bool    // the rate is assumed
}

// u returns the standard uncertainty of the line at t, where timing is the smallest
// standard uncertainty of a point.
func (f *lineFit) u(t, timing float64) float64 {
	s := timing
	if f.residual > s {
		s = f.residual
	}
	rate := rateU
	if !f.assumed {
		rate = s / math.Sqrt(f.sxx)
	}
	return math.Hypot(s/math.Sqrt(float64(f.n)), rate*(t-f.x))
}

// fitLine fits by least squares the reference's times to those of the recording. The rate
// is not estimated from points that span less than rateFromS.
func fitLine(strip, ref []float64) lineFit {
	f := lineFit{n: len(strip), residual: math.NaN()}
	differences := make([]float64, len(strip)) // so that no digits of the rate are lost
	mean := 0.0
	for i, x := range strip {
		differences[i] = ref[i] - x
		f.x += x / float64(f.n)
		mean += differences[i] / float64(f.n)
	}
	f.y = f.x + mean
	f.assumed = slices.Max(strip)-slices.Min(strip) < rateFromS
	if f.assumed {
		f.residual = stat.StdDev(differences, nil)
		return f
	}
	l := stats.FitLine(strip, differences)
	f.rate, f.residual = l.Slope, l.ResidualSD
	for _, x := range strip {
		f.sxx += (x - f.x) * (x - f.x)
	}
	return f
}

// newClock returns the clock of a line. timing is the standard uncertainty of one point.
func newClock(by string, f lineFit, timing, from, to float64) Clock {
	c := Clock{By: by, RatePPM: 1e6 * f.rate, RateAssumed: f.assumed, fit: f, US: max(f.u(from, timing), f.u(to, timing))}
	c.OffsetS = c.Reference(0)
	if !math.IsNaN(f.residual) {
		c.ResidualS = &f.residual
	}
	return c
}

// signal is a load against time.
type signal struct{ t, load []float64 }

// taps returns the times of the taps in a signal, s: loads shorter than tapAtMostS with
// unloaded time on both sides. The time of a tap is the centroid of its load, which is
// more accurate than the sampling interval. The unit of the load does not matter.
func (s signal) taps() (times []float64) {
	if len(s.t) < 3 {
		return nil
	}
	sorted := slices.Sorted(slices.Values(s.load))
	base := sorted[len(sorted)/10]
	top := sorted[len(sorted)-1]
	// The lowest tenth of the samples is assumed to be unloaded; it gives the noise.
	noise := (base - sorted[len(sorted)/20]) / quantileStep
	limit := base + max(tapShare*(top-base), tapNoises*noise)
	lastEnd := math.Inf(-1)
	for i := 0; i < len(s.t); {
		if s.load[i] <= limit {
			i++
			continue
		}
		first := i
		for i < len(s.t) && s.load[i] > limit {
			i++
		}
		from, to := s.t[max(0, first-1)], s.t[min(i, len(s.t)-1)]
		next := i
		for next < len(s.t) && s.load[next] <= limit && s.t[next]-to < tapApartS {
			next++
		}
		alone := from-lastEnd >= tapApartS && (next == len(s.t) || s.load[next] <= limit)
		if alone && first > 0 && i < len(s.t) && to-from <= tapAtMostS {
			times = append(times, s.centroid(max(0, first-1), min(i, len(s.t)-1), base))
		}
		lastEnd = to
	}
	return times
}

// centroid returns the centroid in time of the load above base from sample first to last.
func (s signal) centroid(first, last int, base float64) float64 {
	var sum, moment float64
	for i := first; i <= last; i++ {
		// Each sample represents half of the time to its neighbours.
		w := max(0, s.load[i]-base) * (s.t[min(i+1, len(s.t)-1)] - s.t[max(i-1, 0)])
		sum += w
		moment += w * (s.t[i] - s.t[first])
	}
	return s.t[first] + moment/sum
}

// matchTaps determines which taps of the strip and of the reference correspond, and
// returns the clock. It tries every pair of taps with equal rates, and every two pairs,
// takes the line through the largest number of taps, and refits it to them.
func matchTaps(strip, ref []float64) (f lineFit, matched int, err error) {
	if len(strip) < 2 || len(ref) < 2 {
		return f, 0, fmt.Errorf("%w: "+whyFewTaps, ErrClock, len(strip), len(ref))
	}
	if max(len(strip), len(ref)) > maxTaps {
		return f, 0, fmt.Errorf("%w: "+whyManyTaps, ErrClock, len(strip), len(ref), maxTaps)
	}
	type guess struct {
		at   []int // by tap of the strip: index of the reference's tap; -1 for none
		n    int
		cost float64 // residuals and rate, squared, in units of their usual values
	}
	var best, second guess
	try := func(g lineFit) {
		var one guess
		one.at, one.n, one.cost = g.matches(strip, ref)
		one.cost = one.cost/(usualS*usualS) + g.rate*g.rate/(rateU*rateU)
		better := cmp.Or(cmp.Compare(one.n, best.n), cmp.Compare(best.cost, one.cost))
		switch {
		case overlap(one.at, best.at):
			if better > 0 {
				best = one
			}
		case better > 0:
			best, second = one, best
		case one.n > second.n:
			second = one
		}
	}
	for i, x := range strip {
		for j, y := range ref {
			try(lineFit{x: x, y: y})
			for k := i + 1; k < len(strip); k++ {
				for l := j + 1; l < len(ref); l++ {
					rate := (ref[l]-y)/(strip[k]-x) - 1
					if span := strip[k] - x; span >= rateFromS && math.Abs(rate) <= maxRate+matchWithinS/span {
						try(lineFit{x: x, y: y, rate: rate})
					}
				}
			}
		}
	}
	if best.n < 2 || 2*best.n < len(strip) {
		return f, 0, fmt.Errorf("%w: "+whyOtherTaps, ErrClock, len(strip), len(ref))
	}
	if second.n == best.n {
		return f, 0, fmt.Errorf("%w: "+whyEvenTaps, ErrClock)
	}
	for range 3 { // the refitted line may match further taps
		var x, y []float64
		for i, j := range best.at {
			if j >= 0 {
				x, y = append(x, strip[i]), append(y, ref[j])
			}
		}
		f = fitLine(x, y)
		if span := x[len(x)-1] - x[0]; math.Abs(f.rate) > maxRate+matchWithinS/span {
			return f, 0, errRate(f.rate)
		}
		at, n, _ := f.matches(strip, ref)
		if n < best.n || slices.Equal(at, best.at) {
			break
		}
		best.at, best.n = at, n
	}
	return f, best.n, nil
}

// matches returns, for each tap of the strip, the tap of the reference within
// matchWithinS of the line, the number of matches, and the sum of their squared
// residuals.
func (f *lineFit) matches(strip, ref []float64) (at []int, n int, sum float64) {
	at = make([]int, len(strip))
	last := -1
	for i, x := range strip {
		at[i] = -1
		y := f.y + (1+f.rate)*(x-f.x)
		j, _ := slices.BinarySearch(ref, y-matchWithinS)
		nearest := math.Inf(1)
		for ; j < len(ref) && ref[j] <= y+matchWithinS; j++ {
			if off := math.Abs(ref[j] - y); off < nearest && j > last {
				at[i], nearest = j, off
			}
		}
		if at[i] >= 0 {
			n, last, sum = n+1, at[i], sum+nearest*nearest
		}
	}
	return at, n, sum
}

// overlap reports whether two matchings of taps have a pair in common.
func overlap(a, b []int) bool {
	for i := range min(len(a), len(b)) {
		if a[i] >= 0 && a[i] == b[i] {
			return true
		}
	}
	return false
}
