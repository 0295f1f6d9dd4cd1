package sway

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
)

// WindowS is the length of the window of sway, s. Standard deviations and the ellipse
// increase with the time over which they are taken, so holds can only be compared over
// one length. It is our own choice: most holds are longer, and it contains two periods of
// 1 Hz.
const WindowS = 2.0

// Parameters for detecting that a path has settled. They are our own choice.
const (
	settlingMeanS = 0.25 // the path is averaged over this time before its speed is taken, s
	settlingStepS = 0.05 // the speed is taken at this interval, s
)

// OfHold returns the sway of a hold over a window of WindowS that begins when the path
// has settled (see SettledAt); StartS is the beginning of the window on the axis of t.
// The load has settled where the hold begins. Arguments are those of FromPath, over the
// whole hold. It returns false where the rest of the hold is shorter than the window, and
// where FromPath does.
func OfHold(t, medial, over []float64) (measure.Sway, bool) {
	start, ok := SettledAt(t, medial, over)
	if !ok {
		return measure.Sway{}, false
	}
	first, last := index(t, start), index(t, start+WindowS)
	interval := medianInterval(t)
	if last == len(t) {
		last--
	}
	if t[last]-start < WindowS-interval {
		return measure.Sway{}, false
	}
	s, ok := FromPath(t[first:last+1], medial[first:last+1], over[first:last+1])
	s.StartS = start
	return s, ok
}

// SettledAt returns the time, on the axis of t, at which the path of a hold has settled:
// from then on it moves no faster than is typical of the second half of the hold.
// Arguments are those of FromPath. It returns false where t is shorter than WindowS.
//
// The load can settle before its position does, and the remaining movement would count as
// sway. The speed is that between the mean positions over two adjacent quarters of a
// second, which averages out fast sway. The typical speed is the median, on which a
// descent at the end of the hold has little effect. Speeds are compared rather than
// positions, since a position that drifts through the whole hold never settles. A path
// that pauses for half a second before it has arrived counts as settled.
//
// The definition is our own choice. Those used for landings from a jump differ, and their
// results depend on the length of the trial (Fransz, Huurnink, de Boode, Kingma & van
// Dieën, Time to stabilization in single leg drop jump landings, Gait & Posture).
func SettledAt(t, medial, over []float64) (start float64, ok bool) {
	if len(t) < 2 || len(t) != len(medial) || len(t) != len(over) {
		return 0, false
	}
	from, to := t[0], t[len(t)-1]
	if !(to-from >= WindowS-medianInterval(t)) {
		return 0, false
	}
	m, o := newRunningMean(t, medial), newRunningMean(t, over)
	var at, speeds []float64
	later := 0 // index of the first speed of the later half
	for i := 0; ; i++ {
		a := from + float64(i)*settlingStepS
		b, c := a+settlingMeanS, a+2*settlingMeanS
		if c > to {
			break
		}
		speed := math.Hypot(m.mean(b, c)-m.mean(a, b), o.mean(b, c)-o.mean(a, b)) / settlingMeanS
		if math.IsNaN(speed) {
			continue // no sample in one of the two
		}
		if a < (from+to)/2 {
			later = len(at) + 1
		}
		at, speeds = append(at, a), append(speeds, speed)
	}
	if later >= len(speeds) {
		return 0, false
	}
	typical := slices.Sorted(slices.Values(speeds[later:]))[(len(speeds)-later)/2]
	return at[slices.IndexFunc(speeds, func(v float64) bool { return v <= typical })], true
}

// runningMean gives means of a series over intervals of time.
type runningMean struct {
	t   []float64
	sum []float64 // sum[i] is that of the first i values
}

func newRunningMean(t, x []float64) runningMean {
	r := runningMean{t, make([]float64, len(x)+1)}
	for i, v := range x {
		r.sum[i+1] = r.sum[i] + v
	}
	return r
}

// mean returns the mean of the values from a time up to, not including, another; NaN
// where there is none.
func (r runningMean) mean(from, to float64) float64 {
	i, j := index(r.t, from), index(r.t, to)
	return (r.sum[j] - r.sum[i]) / float64(j-i)
}

// index returns the index of the first of t, rising, that is not before a time, s, by
// more than rounding.
func index(t []float64, at float64) int {
	const rounding = 1e-6
	i, _ := slices.BinarySearch(t, at-rounding)
	return i
}
