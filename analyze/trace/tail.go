package trace

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/clock"
)

// Tail is the end of the trace of one foot while its frames still arrive. Times are in s
// since the foot's first frame, by the strip's own clock; Host converts them to the
// host's.
//
// All of it is provisional: samples are corrected when a zero turns out to be wrong, and
// the estimated host time changes as more frames arrive.
type Tail struct {
	tracer *tracer
	clock  clock.Live
}

// NewTail returns an empty trace of a foot.
func NewTail(s *Strip) *Tail {
	t := &Tail{}
	t.tracer = newTracer(s, &t.clock, false)
	return t
}

// Add adds a frame and returns its sample. It does not retain frame, and in the long run
// allocates only a map every tenth of a second under load.
func (t *Tail) Add(frame *device.Frame) (measure.Sample, error) {
	if err := t.tracer.add(frame); err != nil {
		return measure.Sample{}, err
	}
	return t.tracer.log.Samples[len(t.tracer.log.Samples)-1], nil
}

// Pressed sets whether a hand may be pressing the strip now: see baseline.Tracker.
func (t *Tail) Pressed(is bool) { t.tracer.zero.Pressed(is) }

// Samples returns the samples since the last Forget, in order of time. They are valid
// until the next call of Add or Forget.
func (t *Tail) Samples() []measure.Sample { return t.tracer.log.Samples }

// Zero returns the zero in force, counts in scan order. It is valid until the next Add.
func (t *Tail) Zero() []float64 { return t.tracer.zero.Level() }

// Noise returns the standard deviation of each unloaded cell so far, counts.
func (t *Tail) Noise() []float64 { return t.tracer.zero.Noise() }

// Map returns the mean of the maps that lie within from and to, above the zero in
// force at onset, all in s.
func (t *Tail) Map(onset, from, to float64) Map {
	zeros, _ := t.tracer.zero.Zeros()
	l := Log{Zeros: zeros, maps: t.tracer.log.maps}
	return l.Map(from, to, l.ZeroAt(onset))
}

// Maps returns the maps that lie within from and to, each of a tenth of a second under
// load, above the zero in force at onset, all in s. times has the middle of each.
func (t *Tail) Maps(onset, from, to float64) (all []Map, times []float64) {
	zeros, _ := t.tracer.zero.Zeros()
	l := Log{Zeros: zeros, maps: t.tracer.log.maps}
	for _, s := range l.maps.spans {
		if s.from >= from && s.to <= to {
			times = append(times, (s.from+s.to)/2)
		}
	}
	return l.Maps(from, to, l.ZeroAt(onset)), times
}

// Host returns the host's time at s, ns since 1970, as estimated from the frames so
// far.
func (t *Tail) Host(s float64) float64 {
	return t.clock.Host(t.tracer.firstUS + uint64(int64(math.Round(1e6*s))))
}

// Forget drops everything before a time, s.
func (t *Tail) Forget(before float64) {
	l, z := t.tracer.log, t.tracer.zero
	l.Samples = slices.Delete(l.Samples, 0, Index(l.Samples, before))
	old := 0
	for old < len(l.maps.spans) && l.maps.spans[old].to < before {
		old++
	}
	l.maps.spans = slices.Delete(l.maps.spans, 0, old)
	z.Forget(before)
}
