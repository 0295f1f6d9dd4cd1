// Package sway describes how the centre of pressure moves about while a pose is held.
package sway

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// How the path is prepared.
const (
	LowPassHz   = 10  // where half the amplitude is left
	ResampledHz = 100 // places a second after that
)

const (
	leastHz = 2.01 * LowPassHz // just above twice the cutoff, where the filter has no answer
	padS    = 0.1              // s; several times as long as the filter remembers
	minPad  = 9                // samples, three times the filter's length
)

// Of returns the sway of a path of the centre of pressure: time in s, rising,
// and places in mm, all of one length.
//
// The path is low-passed at the rate it came at by a second-order Butterworth
// filter run forwards and backwards (half the amplitude is left at 10 Hz), then
// taken every 10 ms by linear interpolation. The filter reads the samples as
// evenly spaced by their median interval; the interpolation uses their own times.
//
// Nothing is interpolated over a gap. Where two samples are more than one and a
// half median intervals apart, or there is no place (NaN), the path is cut;
// each part is filtered and its length taken by itself, and a part of fewer than
// ten samples is left out. Standard deviations and ellipse are those of all
// parts together, and speed is their path over their time.
//
// It answers false where there is no sway to give: no part long enough, under
// three resampled places, or 20 frames a second and fewer, which cannot show 10 Hz.
func Measure(t, medial, over []float64) (measure.Sway, bool) {
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
	var ms, os []float64 // resampled places
	seconds := 0.0
	for first := 0; first < len(t); {
		last := first // of the part that begins here
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

func medianInterval(t []float64) float64 {
	d := make([]float64, len(t)-1)
	for i := range d {
		d[i] = t[i+1] - t[i]
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// resample returns x, known at the rising times at, every 10 ms from the first
// of them to the last, on straight lines between the values.
func resample(at, x []float64) []float64 {
	const sliver = 1e-6 // of an interval: rounding must not cost the last value
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

func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
