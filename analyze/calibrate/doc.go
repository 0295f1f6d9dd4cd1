// Package calibrate finds out what a strip's counts are worth: what each cell
// reads unloaded, how the cells differ, which curve leads from counts to kPa,
// how true the outcome is, and how well a mounting repeats.
//
// It is arithmetic alone: it reads no files and asks nobody anything. A
// measurement that cannot be used is refused with an error, which is one line
// that says what is wrong and what to do next; what can be used but not wholly
// trusted comes with warnings. Slices over cells are in the order of the
// strip's scan, and messages count cells from 1.
//
// Throughout, the reading of a cell is its counts above its zero divided by its
// gain, and one curve, that of the strip, leads from readings to kPa. So gains
// need no curve and are found first, and a strip takes these in turn: zero,
// gains, curve, verification.
//
// Thresholds without a source beside them are our own choice.
package calibrate

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// silent is the fraction of the middle cell's response below which a cell is
// taken not to respond.
const silentShare = 0.1

// above returns the response of a cell: counts above its zero, 0 where zero is nil.
func netCounts(counts uint16, zero []float64, k int) float64 {
	if zero == nil {
		return float64(counts)
	}
	return float64(counts) - zero[k]
}

// sameLength refuses frames that do not all have so many cells, and times that
// do not belong to them or do not rise.
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

// median returns the middle value, NaN of none. It leaves x as it is.
func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(x))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// named lists cells for a person, such as "cells 3 and 17 of the scan".
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
