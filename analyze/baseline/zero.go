// Package baseline tracks the reading of each cell of a strip without load, its zero, so
// that drift of the sensor does not appear as load.
//
// A Tracker judges the frames of one foot as they arrive, in windows of a tenth of a
// second, and updates the zero in force. With a History it also stores every window, and
// Revise determines the zeros again from all frames. Where the zeros in force were not
// good enough, the frames are read a second time with the revised ones.
//
// A window is called
//
//   - flat if the load varies by at most flatN within it;
//   - quiet if it is flat and its load lies within ±quietN;
//   - steady if it is flat and within maxDriftN of the window before;
//   - at rest if Revise has found that the strip was unloaded during it.
package baseline

import "slices"

// Zero holds the reading of each cell without load.
type Zero struct {
	T     float64   // s since the first frame: when it was measured, or from when it is in force
	Level []float64 // counts, in scan order
}

// After returns the index of the first of zeros, ordered by time, that is later
// than t; their number where none is.
func After(zeros []Zero, t float64) int {
	i, _ := slices.BinarySearchFunc(zeros, t, func(z Zero, t float64) int {
		if z.T <= t {
			return -1
		}
		return 1
	})
	return i
}

// Interpolate sets level to the zero at t, s: linear between neighbouring zeros, and
// constant beyond the first and the last. There must be at least one zero.
func Interpolate(level []float64, zeros []Zero, t float64) {
	i := After(zeros, t)
	a := zeros[max(0, i-1)]
	copy(level, a.Level)
	if i == 0 || i == len(zeros) {
		return
	}
	b := zeros[i]
	share := (t - a.T) / (b.T - a.T)
	for k := range level {
		level[k] += share * (b.Level[k] - a.Level[k])
	}
}
