// Package trace reduces the frames of a recording to one small sample each (time, load
// and centre of pressure) and, under load, to a pressure map every tenth of a second.
// Nothing else of a recording stays in memory.
package trace

import (
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
)

// LoadFloorN is the load below which there is no centre of pressure, N.
const LoadFloorN = field.LoadFloorN

// Index returns the index of the first of samples, ordered by time, that is not
// before t, s; their number where none is.
func Index(samples []measure.Sample, t float64) int {
	i, _ := slices.BinarySearchFunc(samples, t, func(s measure.Sample, t float64) int {
		if s.T < t {
			return -1
		}
		return 1
	})
	return i
}

// Within returns the samples from one time to another, s, both included.
func Within(samples []measure.Sample, from, to float64) []measure.Sample {
	i := Index(samples, from)
	j := i
	for j < len(samples) && samples[j].T <= to {
		j++
	}
	return samples[i:j]
}
