// Package sway describes the movement of the centre of pressure during a hold: its sway
// within a window of one length, and what changes from the first third to the last.
package sway

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// Filter and resampling of the path.
const (
	LowPassHz   = 10  // frequency at which half of the amplitude remains, Hz
	ResampledHz = 100 // rate of the resampled path, Hz
)

const (
	leastHz = 2.01 * LowPassHz // least sampling rate, Hz: just above twice the cutoff
	padS    = 0.1              // extension of the path at both ends, s: several time constants of the filter
	minPad  = 9                // least extension in samples, three times the length of the filter
)

// FromPath returns the sway of a path of the centre of pressure: times t in s,
// rising, and medial and over in mm, all of one length.
//
// The path is low-passed at its own sampling rate by a second-order Butterworth
// filter run forwards and backwards (half the amplitude remains at 10 Hz), then
// resampled every 10 ms by linear interpolation. The filter takes the samples as
// evenly spaced by their median interval; the interpolation uses their times.
//
// Gaps are not interpolated. Where two samples are more than one and a half
// median intervals apart, or a point is undefined (NaN), the path is divided;
// each part is filtered by itself, and a part of fewer than ten samples is left
// out. Standard deviations and the 95 % prediction ellipse (see
// stats.PredictionEllipse95) are those of all parts together, and speed is their
// path length divided by their time.
//
// It returns false where sway is not defined: no part is long enough, there are
// fewer than three resampled points, or the rate is 20 frames a second or less,
// which cannot represent 10 Hz.
func FromPath(t, medial, over []float64) (measure.Sway, bool) {
	if len(t) < 2 || len(t) != len(medial) || len(t) != len(over) {
		return measure.Sway{}, false
	}
	interval := medianInterval(t)
	if !(interval > 0) || 1/interval < leastHz {
		return measure.Sway{}, false
	}
	filter := newButterworth(LowPassHz, 1/interval)
	pad := max(minPad, int(math.Round(padS/interval)))

	var s measure.Sway
	var ms, os []float64 // resampled path, mm
	seconds := 0.0
	for first := 0; first < len(t); {
		last := first // of the part that begins at first
		for last+1 < len(t) && finite(medial[last], over[last]) && finite(medial[last+1], over[last+1]) && t[last+1]-t[last] <= 1.5*interval {
			last++
		}
		part := last + 1 - first
		if part > minPad {
			pad := min(pad, part-1)
			at := t[first : last+1]
			m := resample(at, filter.zeroPhase(medial[first:last+1], pad))
			o := resample(at, filter.zeroPhase(over[first:last+1], pad))
			for i := 1; i < len(m); i++ {
				s.PathMM += math.Hypot(m[i]-m[i-1], o[i]-o[i-1])
			}
			seconds += float64(len(m)-1) / ResampledHz
			ms, os = append(ms, m...), append(os, o...)
		}
		first = last + 1
	}
	if len(ms) < 3 {
		return measure.Sway{}, false
	}
	vm, vo, cov := stat.Variance(ms, nil), stat.Variance(os, nil), stat.Covariance(ms, os, nil)
	s.SDMedialMM, s.SDOverMM = math.Sqrt(vm), math.Sqrt(vo)
	s.SpeedMMS = s.PathMM / seconds
	s.Ellipse95MM2 = stats.PredictionEllipse95(vm, vo, cov, len(ms)).Area
	return s, finite(s.SDMedialMM, s.SDOverMM, s.PathMM, s.SpeedMMS, s.Ellipse95MM2)
}

// medianInterval returns the median interval between samples, s.
func medianInterval(t []float64) float64 {
	d := make([]float64, len(t)-1)
	for i := range d {
		d[i] = t[i+1] - t[i]
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// resample returns x, given at the rising times at, every 10 ms from the first of
// them to the last, by linear interpolation.
func resample(at, x []float64) []float64 {
	const sliver = 1e-6 // share of an interval, so that rounding does not drop the last value
	n := 1 + int((at[len(at)-1]-at[0])*ResampledHz+sliver)
	y := make([]float64, n)
	j := 0
	for i := range y {
		want := at[0] + float64(i)/ResampledHz
		for j+2 < len(at) && at[j+1] < want {
			j++
		}
		f := min(1, (want-at[j])/(at[j+1]-at[j]))
		y[i] = x[j] + f*(x[j+1]-x[j])
	}
	return y
}

// finite reports whether all values are finite.
func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
