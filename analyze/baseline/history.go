package baseline

import (
	"math"
	"slices"

	"aplomb/analyze/field"
	"aplomb/device"
)

// Limits by which Revise distinguishes an unloaded strip with a drifting zero from a
// loaded strip. They are our own choice.
const (
	maxDriftN         = 3   // N: largest drift of a zero from one window to the next, 30 N/s
	maxClimbN         = 75  // N: largest rise of a zero during one load
	steadyWindows     = 3   // steady windows in a row; fewer are not evidence by themselves
	offsetMostN       = 350 // N: largest sum of unloaded cells where the whole recording identifies them as unloaded
	minVariationRatio = 1.5 // least variation of the load within a window under a dancer, divided by that of the unloaded strip
	missingS          = 1   // s: a longer time of missing frames may contain a load
	maxZeroErrorN     = 5   // N: where a zero in force was off by more, the frames are read again
)

// History stores every window of a recording, so that Revise can determine the zeros from
// all frames.
//
// The lowest steady interval of the recording counts as unloaded if the sum of its cells
// is at most 100 N. Up to 350 N it also counts as unloaded if the load rises from it and
// returns to it, and in between varies by more than that of a resting weight. From there
// the zero is tracked forward and backward in time. While windows stay steady, they are
// unloaded. After a load the strip is unloaded again where two windows are steady and
// within 12 N of the zero before, or below it, or above it by at most 75 N and half of
// the largest load, if
//
//   - no window as low was steady during the load, and
//   - the load does not decrease further from there before it rises again.
//
// Where frames are missing for more than a second there may have been a load.
//
// Drift and load cannot always be distinguished. A zero that rises by more than 75 N
// during one load, faster than 30 N/s while unloaded, or abruptly by more than 12 N
// without a load, counts as load. A load that grows from zero by less than 30 N/s counts
// as drift. A motionless load of up to 75 N counts as drift where a load at least twice
// as large directly precedes it and another, or the end of the recording, directly
// follows. A motionless load of up to 350 N above the zero of the profile, from which
// load rises and to which it returns, and which never ceases, counts as an offset. A
// strip whose load varies by more than 5 N within every window while unloaded is never
// found to be unloaded.
type History struct {
	newtons   []float64     // load of one count above zero in each cell, N, or of one kPa where curve is not nil
	curve     *device.Curve // nil where it is linear
	first     []float32     // the first zero, counts
	windows   []pastWindow
	corrected float64 // N: sum of all corrections of the zeros so far
}

// NewHistory returns an empty History of a foot; zero is its first zero, counts, where
// nil is 0. newtons is the load of one count above zero in each cell, N, where the curve
// is linear and nil, and of one kPa otherwise.
func NewHistory(newtons []float64, curve *device.Curve, zero []float64) *History {
	h := &History{newtons: newtons, curve: curve, first: make([]float32, len(newtons))}
	for k, z := range zero {
		h.first[k] = float32(z)
	}
	return h
}

// pastWindow is what a History stores of a window. Loads are in N above the first zero.
type pastWindow struct {
	from, to float64   // s
	high     float64   // largest load
	span     float64   // largest load less smallest
	used     float64   // load above the zero in force
	mean     []float32 // what each cell read, counts; nil where the window is not flat
	run      int       // number of steady windows in a row from this one on, itself included; 0 where it is not flat
}

func (w *pastWindow) middle() float64 { return (w.from + w.to) / 2 }

// add adds a window that ends at to; level is its load above the zero in force, N.
func (h *History) add(w *window, to, level float64) {
	p := pastWindow{from: w.from, to: to, high: w.hi + level, span: w.hi - w.lo, used: level - h.corrected}
	if w.flat() {
		p.run, p.mean = 1, make([]float32, len(w.sum))
		per := 1 / float64(w.n)
		for k, sum := range w.sum {
			p.mean[k] = float32(float64(sum) * per)
		}
	}
	h.windows = append(h.windows, p)
}

// between returns the load of cells with the readings mean and the zeros zero, N.
func (h *History) between(mean, zero []float32) (load float64) {
	for k, newtons := range h.newtons {
		d := float64(mean[k] - zero[k])
		if h.curve != nil {
			d = h.curve.KPa(k, d)
		}
		load += newtons * d
	}
	return load
}

// rise returns the load of window a above window b, N.
func (h *History) rise(a, b *pastWindow) float64 { return h.between(a.mean, b.mean) }

// above returns the load of a window above the first zero, N.
func (h *History) above(w *pastWindow) float64 { return h.between(w.mean, h.first) }

// loadOf returns the load of a zero, counts, above the first zero, N.
func (h *History) loadOf(level []float64) (load float64) {
	for k, newtons := range h.newtons {
		d := level[k] - float64(h.first[k])
		if h.curve != nil {
			d = h.curve.KPa(k, d)
		}
		load += newtons * d
	}
	return load
}

// Revision holds the zeros that follow from all frames of a recording together.
type Revision struct {
	Zeros      []Zero // to interpolate; none where the strip was never unloaded
	FromStart  bool   // the recording began unloaded
	FarFromUse bool   // the zeros in force were off these by more than 5 N somewhere
}

// Revise determines the zeros of the whole recording. It is called once, after the last
// window.
func (h *History) Revise() Revision {
	at, fromStart := h.unloaded()
	if at == nil {
		return Revision{}
	}
	return Revision{Zeros: h.zeros(at), FromStart: fromStart, FarFromUse: h.farFromUse(at)}
}

// unloaded returns the windows whose means are the zeros of the recording, and whether
// the recording began unloaded. It returns nil where the strip was never unloaded.
func (h *History) unloaded() (at []int, fromStart bool) {
	for i := len(h.windows) - 2; i >= 0; i-- {
		w, next := &h.windows[i], &h.windows[i+1]
		if w.run > 0 && next.run > 0 && math.Abs(h.rise(next, w)) <= maxDriftN {
			w.run = next.run + 1
		}
	}
	lowest, anchor := math.Inf(1), -1
	for i, w := range h.windows {
		if w.run < steadyWindows {
			continue
		}
		if above := h.above(&h.windows[i+1]); above < lowest {
			lowest, anchor = above, i+1
		}
	}
	if anchor < 0 || lowest > offsetMostN {
		return nil, false
	}
	atRest := make([]bool, len(h.windows))
	atRest[anchor] = true
	h.walk(atRest, anchor, 1)
	h.walk(atRest, anchor, -1)
	if lowest > offsetsN && !h.returnsToRest(atRest) {
		return nil, false
	}
	return h.inner(atRest), slices.Contains(atRest[:min(2, len(atRest))], true)
}

// walk goes from an unloaded window forward (step 1) or backward (step −1) and marks all
// other unloaded windows in atRest.
func (h *History) walk(atRest []bool, from, step int) {
	zero := &h.windows[from]
	resting, peak, lowest := true, 0.0, 0.0
	for i := from + step; i >= 0 && i < len(h.windows); i += step {
		w := &h.windows[i]
		if resting && w.run > 0 && math.Abs(h.rise(w, zero)) <= maxDriftN {
			atRest[i], zero = true, w
			continue
		}
		if resting {
			resting, peak, lowest = false, 0, math.Inf(1)
		}
		if math.Abs(w.from-h.windows[i-step].from) > missingS {
			peak, lowest = math.Inf(1), math.Inf(1)
		}
		peak = max(peak, w.high-zero.high)
		end := h.endOfRun(i, step)
		n := 1 + (end-i)*step
		if w.run == 0 || n < 2 {
			continue
		}
		over := h.rise(w, zero)
		switch {
		case over <= quietN, over <= min(maxClimbN, peak/2, lowest-quietN) && !h.fallsFurther(end, step):
			atRest[i], zero, resting = true, w, true
		case n >= steadyWindows:
			for ; i != end; i += step {
				peak = max(peak, h.windows[i].high-zero.high)
			}
			lowest = min(lowest, over, h.rise(&h.windows[end], zero))
		}
	}
}

// endOfRun returns the last of the windows that are steady with the i-th, in the
// direction of step.
func (h *History) endOfRun(i, step int) int {
	if step > 0 {
		return i + max(0, h.windows[i].run-1)
	}
	for i > 0 && h.windows[i].run > 0 && h.windows[i-1].run == h.windows[i].run+1 {
		i--
	}
	return i
}

// fallsFurther reports whether the load decreases from the level of the i-th window, in
// the direction of step, before it rises.
func (h *History) fallsFurther(i, step int) bool {
	from := &h.windows[i]
	for j := i + step; j >= 0 && j < len(h.windows); j += step {
		w := &h.windows[j]
		if w.high > from.high+quietN {
			return false
		}
		end := h.endOfRun(j, step)
		if w.run == 0 || (end-j)*step < 1 {
			continue
		}
		if h.rise(w, from) < -quietN {
			return true
		}
		from, j = &h.windows[end], end
	}
	return false
}

// returnsToRest reports whether the load rises from unloaded windows and returns to them, and
// in between varies by more than that of a resting weight.
func (h *History) returnsToRest(atRest []bool) bool {
	var quiet, loaded []float64
	var zero *pastWindow
	rises, up := 0, false
	for i := range h.windows {
		w := &h.windows[i]
		switch {
		case atRest[i]:
			if up {
				rises++
			}
			zero, up = w, false
			quiet = append(quiet, w.span)
		case zero != nil && w.high > zero.high+field.LoadFloorN:
			up = true
			loaded = append(loaded, w.span)
		}
	}
	if rises == 0 {
		return false
	}
	slices.Sort(quiet)
	slices.Sort(loaded)
	return loaded[len(loaded)/2] > minVariationRatio*quiet[len(quiet)/2]
}

// inner returns the unloaded windows without those next to a load, which may contain its
// first and last newtons. Where an unloaded interval has no other windows, as between two
// steps, it returns the lowest of them.
func (h *History) inner(atRest []bool) (at []int) {
	for first := 0; first < len(atRest); first++ {
		if !atRest[first] {
			continue
		}
		end := first
		for end < len(atRest) && atRest[end] {
			end++
		}
		from, to := first, end
		if from > 0 {
			from++
		}
		if to < len(atRest) {
			to--
		}
		if from >= to {
			from = first
			for i := first + 1; i < end; i++ {
				if h.rise(&h.windows[i], &h.windows[from]) < 0 {
					from = i
				}
			}
			to = from + 1
		}
		for i := from; i < to; i++ {
			// Time may go back where a clock restarts.
			if n := len(at); n == 0 || h.windows[i].middle() > h.windows[at[n-1]].middle() {
				at = append(at, i)
			}
		}
		first = end
	}
	return at
}

// zeros returns the means of windows as zeros.
func (h *History) zeros(at []int) []Zero {
	zeros := make([]Zero, len(at))
	for i, k := range at {
		w := &h.windows[k]
		zeros[i] = Zero{T: w.middle(), Level: make([]float64, len(h.newtons))}
		for k, m := range w.mean {
			zeros[i].Level[k] = float64(m)
		}
	}
	return zeros
}

// farFromUse reports whether the zeros that were in force differ anywhere by more
// than 5 N from those interpolated between the windows at.
func (h *History) farFromUse(at []int) bool {
	above := func(i int) float64 { return h.above(&h.windows[at[i]]) }
	next := 0
	before, after := above(0), above(0)
	for i := range h.windows {
		w := &h.windows[i]
		for next < len(at) && at[next] <= i {
			before, next = above(next), next+1
			after = before
			if next < len(at) {
				after = above(next)
			}
		}
		want := before
		if next > 0 && next < len(at) {
			from, to := h.windows[at[next-1]].middle(), h.windows[at[next]].middle()
			want += (w.middle() - from) / (to - from) * (after - before)
		}
		if math.Abs(w.used+h.corrected-want) > maxZeroErrorN {
			return true
		}
	}
	return false
}
