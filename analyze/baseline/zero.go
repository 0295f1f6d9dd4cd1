// Package baseline follows what each cell of a strip reads without load, so that
// drift of the sensor does not become load.
//
// A Tracker judges the frames of one foot in windows of a tenth of a second as
// they come and keeps the zero in force. With a History it also keeps every
// window, and once all frames are known Revise finds the zeros again with what
// came later. Where the zeros in force were not good enough, the frames are read
// a second time with the revised ones.
//
// Of windows these words are used:
//
//   - flat: the load varies by no more than flatN within it.
//   - quiet: flat, and its load lies within ±quietN.
//   - steady: flat, and within maxDriftN of the window before.
//   - at rest: Revise has found that the strip was unloaded during it.
package baseline

import "slices"

// Zero holds what each cell reads without load.
type Zero struct {
	T     float64   // s since the first frame: when it was read, or from when it is in force
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

// Interpolate sets level to the zero at t, s: linear between the zeros beside it,
// and beyond the ends that of the end. There is at least one zero.
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
