// Package calibrate calibrates a strip: the reading of each cell without load,
// the gains of the cells, the curve from counts to kPa, a verification of the
// result, and the repeatability of mounting.
//
// It computes only and has no input or output. A measurement that cannot be used
// gives an error of one line that says what is wrong and what to do next; one
// that can be used with reservations gives warnings. Slices over cells are in
// scan order; messages count cells from 1.
//
// The reading of a cell is its counts above its zero divided by its gain, and one
// curve for the strip converts readings to kPa. Gains need no curve and are found
// first, so a strip is calibrated in the order zero, gains, curve, verification.
//
// Thresholds without a source are our own choice.
package calibrate

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// silentShare is the share of the median response below which a cell counts as
// not responding.
const silentShare = 0.1

// netCounts returns the counts above the zero of a cell; a nil zero is 0.
func netCounts(counts uint16, zero []float64, k int) float64 {
	if zero == nil {
		return float64(counts)
	}
	return float64(counts) - zero[k]
}

// sameLength returns an error for frames with another number of cells than cells,
// and for times that are not one for each frame in rising order.
func sameLength(timeS []float64, frames [][]uint16, cells int) error {
	if len(timeS) != len(frames) {
		return fmt.Errorf("%d times for %d frames: one for each", len(timeS), len(frames))
	}
	for i, f := range frames {
		if len(f) != cells {
			return fmt.Errorf("frame %d has %d cells, not %d: is it another strip's?", i+1, len(f), cells)
		}
		if math.IsNaN(timeS[i]) || math.IsInf(timeS[i], 0) || i > 0 && timeS[i] <= timeS[i-1] {
			return fmt.Errorf("frame %d at %v s: times must rise", i+1, timeS[i])
		}
	}
	return nil
}

// median returns the median, NaN for an empty x. It does not change x.
func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(x))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// cellNames lists cells for a person, such as "cells 3 and 17 of the scan".
func cellNames(cells []int) string {
	s := make([]string, len(cells))
	for i, k := range cells {
		s[i] = strconv.Itoa(k + 1)
	}
	if len(s) == 1 {
		return "cell " + s[0] + " of the scan"
	}
	last := len(s) - 1
	return "cells " + strings.Join(s[:last], ", ") + " and " + s[last] + " of the scan"
}
