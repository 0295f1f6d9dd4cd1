// Package releve detects relevés in the load under the platforms. A platform is
// loaded only while the dancer is on pointe, so a relevé is a pulse of load, and
// its steady part, the hold, is what is measured.
package releve

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
)

// Pulse is one stay on pointe of one foot. Times are s since the recording's
// first frame, interpolated linearly between samples; samples are numbered from
// 0, and Last and HoldLast are part of the pulse.
type Pulse struct {
	First, Last  int     // first and last sample under load
	OnsetS, EndS float64 // when the load rises through 10 % of MedianN and falls through 7 %, at least 25 N each
	MedianN      float64 // median load, N, without rise and descent

	HoldFirst, HoldLast  int     // first and last sample of the hold; -1 where Aborted
	HoldStartS, HoldEndS float64 // 0 where Aborted
	Aborted              bool    // the load never settled

	// TouchesGap reports that frames are missing in the pulse or at its onset or end,
	// or that the recording begins or ends in it. Its times are then those of the
	// nearest samples.
	TouchesGap bool
}

// Definition of pulse and hold; shares are of the pulse's median load. Our own choice.
const (
	OnsetShare      = 0.10 // the pulse begins where the load rises through this
	EndShare        = 0.07 // it ends where the load falls through this
	HoldWithin      = 0.15 // the load of a hold stays within this of the median
	HoldAtLeastS    = 0.5  // least length of a hold, s
	DipShorterThanS = 0.15 // a shorter dip, s, ends neither pulse nor hold; a shorter pulse is ignored
)

const (
	floorN = trace.LoadFloorN // below it the centre of pressure is not defined, and there is no pulse
	// maxGapS is the longest gap, s, within which a pulse continues. A longer one ends
	// it, since the end of one relevé and the onset of the next could lie in it.
	maxGapS = 0.5
	smoothS = 0.01 // the load is averaged over this time to either side, s
)

// Find returns the pulses in the samples of one foot, in order.
//
// Missing frames are treated as follows: a gap of up to 0.5 s within a load does not end
// the pulse, a longer one does; no hold extends over 150 ms without a sample; and a pulse
// that touches a gap is marked (TouchesGap).
//
// The load must be free of drift to within a fraction of the 25 N floor.
//
// The thresholds of a pulse depend on its median, and its median depends on where it
// begins and ends. Therefore the load is first divided at the floor. In each part the
// thresholds start from its largest load and are lowered to those of the resulting median
// until they no longer change. The median does not include rise and descent, which can be
// longer than the hold: it is that of the samples above 85 % of it.
func Find(samples []measure.Sample) []Pulse {
	if len(samples) < 2 {
		return nil
	}
	f := &finder{samples: samples, load: smoothedLoad(samples), last: sampleRange{-1, -1}}
	var pulses []Pulse
	for _, piece := range f.runsAbove(sampleRange{0, len(samples) - 1}, floorN) {
		for _, r := range f.pulsesIn(piece) {
			p := f.measure(r)
			tooShort := p.EndS-p.OnsetS < DipShorterThanS && !p.TouchesGap
			if !tooShort && p.MedianN >= floorN {
				pulses = append(pulses, p)
			}
		}
	}
	return pulses
}

// finder finds the pulses in the samples of one foot.
type finder struct {
	samples []measure.Sample
	load    []float32 // smoothed, N
	scratch []float32

	last       sampleRange // range of lastMedian
	lastMedian float64
}

// sampleRange is a range of samples, both ends included.
type sampleRange struct{ first, last int }

// runsAbove returns the ranges within a range that begin where the load rises
// through the onset threshold of a level and end where it falls through the end
// threshold.
func (f *finder) runsAbove(within sampleRange, level float64) (runs []sampleRange) {
	up, down := float32(onsetThreshold(level)), float32(endThreshold(level))
	r, open := sampleRange{}, false
	for i := within.first; i <= within.last; i++ {
		v := f.load[i]
		if v < down {
			continue
		}
		if open && f.separates(r.last, i) {
			runs, open = append(runs, r), false
		}
		if open {
			r.last = i
		} else if v >= up {
			r, open = sampleRange{i, i}, true
		}
	}
	if open {
		runs = append(runs, r)
	}
	return runs
}

// separates reports whether the interval between two samples under load ends a
// pulse: no load for 150 ms or more, or frames missing for more than maxGapS.
func (f *finder) separates(a, b int) bool {
	between := f.samples[b].T - f.samples[a].T
	if b == a+1 && between < DipShorterThanS {
		return false // the usual case
	}
	missing := 0.0
	for i := a + 1; i <= b; i++ {
		if f.noSampleBefore(i) {
			missing += f.samples[i].T - f.samples[i-1].T
		}
	}
	return between-missing >= DipShorterThanS || missing > maxGapS
}

// noSampleBefore reports whether frames are missing just before sample i: the trace
// marked it so, or the interval is as long as a dip.
func (f *finder) noSampleBefore(i int) bool {
	return i == 0 || f.samples[i].Flags&measure.AfterGap != 0 || f.samples[i].T-f.samples[i-1].T >= DipShorterThanS
}

// pulsesIn returns the pulses in a range of load above the floor.
func (f *finder) pulsesIn(piece sampleRange) []sampleRange {
	level := float64(slices.Max(f.load[piece.first : piece.last+1]))
	runs := f.runsAbove(piece, level)
	for range 20 { // two or three iterations are usual
		next := 0.0
		for _, r := range runs {
			next = max(next, f.median(r))
		}
		if next >= 0.999*level {
			break
		}
		level = next
		runs = f.runsAbove(piece, level)
	}
	return f.widen(runs, piece, level)
}

// widen extends each range to its own thresholds, which are lower than those of
// level where its median is lower, but not beyond the lowest load between it and
// its neighbours.
func (f *finder) widen(runs []sampleRange, piece sampleRange, level float64) []sampleRange {
	for i, r := range runs {
		own := f.median(r)
		if own >= 0.999*level {
			continue
		}
		room := piece
		if i > 0 {
			room.first = f.lowest(runs[i-1].last+1, r.first)
		}
		if i+1 < len(runs) {
			room.last = f.lowest(r.last, runs[i+1].first-1)
		}
		for _, wide := range f.runsAbove(room, own) {
			if wide.first <= r.first && r.first <= wide.last {
				runs[i] = sampleRange{wide.first, max(wide.last, r.last)}
			}
		}
	}
	return runs
}

// lowest returns the sample with the lowest load from first to last.
func (f *finder) lowest(first, last int) int {
	at := first
	for i := first; i <= last; i++ {
		if f.load[i] < f.load[at] {
			at = i
		}
	}
	return at
}

// median returns the median load of a range without rise and descent, N.
func (f *finder) median(r sampleRange) float64 {
	if r != f.last {
		f.last, f.lastMedian = r, f.computeMedian(r)
	}
	return f.lastMedian
}

// computeMedian is median without the cached result.
func (f *finder) computeMedian(r sampleRange) float64 {
	f.scratch = append(f.scratch[:0], f.load[r.first:r.last+1]...)
	rest := f.scratch
	level := lowerMedian(rest)
	for {
		n := 0
		for _, v := range rest {
			if v >= (1-HoldWithin)*level {
				rest[n] = v
				n++
			}
		}
		if n == len(rest) {
			return float64(level)
		}
		rest = rest[:n]
		level = lowerMedian(rest)
	}
}

// onsetThreshold and endThreshold return the loads, N, at which a pulse with this
// median begins and ends.
func onsetThreshold(level float64) float64 { return max(floorN, OnsetShare*level) }
func endThreshold(level float64) float64   { return max(floorN, EndShare*level) }

// measure returns the pulse of a range.
func (f *finder) measure(r sampleRange) Pulse {
	level := f.median(r)
	p := Pulse{
		First: r.first, Last: r.last,
		OnsetS:    f.crossing(r.first-1, r.first, onsetThreshold(level)),
		EndS:      f.crossing(r.last+1, r.last, endThreshold(level)),
		MedianN:   level,
		HoldFirst: -1, HoldLast: -1,
		Aborted: true,
	}
	p.TouchesGap = r.last == len(f.samples)-1 || f.noSampleBefore(r.last+1)
	for i := r.first; i <= r.last && !p.TouchesGap; i++ {
		p.TouchesGap = f.noSampleBefore(i)
	}
	h := f.hold(r, level)
	h.start, h.end = max(h.start, p.OnsetS), min(h.end, p.EndS) // for a low load the band extends below the floor
	if h.end-h.start >= HoldAtLeastS {
		p.HoldFirst, p.HoldLast, p.HoldStartS, p.HoldEndS = h.first, h.last, h.start, h.end
		p.Aborted = false
	}
	return p
}

// crossing returns when the load passed a threshold between a sample and its
// neighbour inside the pulse, by linear interpolation. Without such a neighbour,
// or where frames are missing between the two, it is the time of the sample
// inside.
func (f *finder) crossing(outside, inside int, threshold float64) float64 {
	in := f.samples[inside].T
	if outside < 0 || outside >= len(f.samples) || f.noSampleBefore(max(outside, inside)) {
		return in
	}
	out, a, b := f.samples[outside].T, float64(f.load[outside]), float64(f.load[inside])
	share := (threshold - a) / (b - a)
	if !(share >= 0 && share <= 1) {
		return in
	}
	return out + share*(in-out)
}

// stretch is a part of a pulse in which the load stays within the band of the
// hold.
type stretch struct {
	sampleRange
	start, end float64
}

func (s stretch) length() float64 { return s.end - s.start }

// hold returns the longest stretch of a range within the band around level.
// Leaving the band for less than 150 ms does not end a stretch, unless the time
// in the band after it is as short: a load that oscillates into the band has not
// settled.
func (f *finder) hold(r sampleRange, level float64) (longest stretch) {
	var joined stretch
	take := func(s stretch) {
		if s.length() < DipShorterThanS {
			return
		}
		if joined.length() > 0 && s.start-joined.end < DipShorterThanS {
			joined.last, joined.end = s.last, s.end
		} else {
			joined = s
		}
		if joined.length() > longest.length() {
			longest = joined
		}
	}
	lo, hi := float32((1-HoldWithin)*level), float32((1+HoldWithin)*level)
	edge := func(outside, inside int) float64 {
		if outside >= 0 && outside < len(f.load) && f.load[outside] > hi {
			return f.crossing(outside, inside, float64(hi))
		}
		return f.crossing(outside, inside, float64(lo))
	}
	for i := r.first; i <= r.last; i++ {
		if v := f.load[i]; v < lo || v > hi {
			continue
		}
		s := stretch{sampleRange: sampleRange{i, i}, start: edge(i-1, i)}
		for i < r.last && f.load[i+1] >= lo && f.load[i+1] <= hi && f.samples[i+1].T-f.samples[i].T < DipShorterThanS {
			i++
		}
		s.last, s.end = i, edge(i+1, i)
		take(s)
	}
	return longest
}

// smoothedLoad returns the moving average of the load over 10 ms to either side,
// symmetric, never across missing frames.
func smoothedLoad(samples []measure.Sample) []float32 {
	n := len(samples)
	load := make([]float32, n)
	reach := 0
	if interval := (samples[n-1].T - samples[0].T) / float64(n-1); interval > 0 {
		reach = int(math.Min(smoothS/interval+1e-6, 100))
	}
	first := 0 // of the samples without a gap between them
	for first < n {
		end := first + 1
		for end < n && samples[end].Flags&measure.AfterGap == 0 {
			end++
		}
		for i := first; i < end; i++ {
			k := min(reach, i-first, end-1-i)
			sum := float32(0)
			window := samples[i-k : i+k+1]
			for j := range window {
				sum += window[j].LoadN
			}
			if mean := sum / float32(2*k+1); mean <= math.MaxFloat32 {
				load[i] = mean // NaN counts as no load
			}
		}
		first = end
	}
	return load
}
