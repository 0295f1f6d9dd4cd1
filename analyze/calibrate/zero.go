package calibrate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/stats"
)

// Zero is the reading of a strip without load.
type Zero struct {
	Level    []float64 // mean reading of each cell, counts
	ULevel   []float64 // standard uncertainty of Level, counts
	Noise    []float64 // standard deviation of one reading of each cell, counts, at least that of rounding
	Warnings []string
}

const (
	zeroFrames  = 100   // least number of frames; fewer do not distinguish noise from drift
	zeroBatches = 10    // number of batches whose means are compared
	maxWander   = 0.001 // largest range of batch means, share of full scale: about 3 N over a strip of 40 cells
	zeroWarn    = 0.02  // difference from the median zero, share of full scale, that gives a warning
	loadedShare = 0.05  // share of full scale above which a cell counts as loaded
)

// Unloaded returns the zeros from frames of the unloaded strip. fullCounts is the count
// at which a cell saturates.
//
// It returns an error for fewer than 100 frames, for a saturated cell, for a strip that
// seems to be loaded (the median zero above 5 % of full scale, or a cell 5 % of full
// scale above it), and for cells that drift: the means over tenths of the frames span
// more than 0.1 % of full scale, at least one count, and more than noise explains.
func Unloaded(frames [][]uint16, fullCounts int) (Zero, error) {
	if fullCounts < 1 {
		return Zero{}, fmt.Errorf("full scale of %d counts: give the count at which a cell saturates", fullCounts)
	}
	if len(frames) < zeroFrames {
		return Zero{}, fmt.Errorf("%d frames of the unloaded strip: take at least %d", len(frames), zeroFrames)
	}
	cells := len(frames[0])
	z := Zero{Level: make([]float64, cells), ULevel: make([]float64, cells), Noise: make([]float64, cells)}
	var full, wander []int
	x := make([]float64, len(frames))
	for k := range cells {
		saturated := false
		for i, f := range frames {
			if len(f) != cells {
				return Zero{}, fmt.Errorf("frame %d has %d cells, the first %d: is it another strip's?", i+1, len(f), cells)
			}
			x[i] = float64(f[k])
			saturated = saturated || int(f[k]) >= fullCounts
		}
		if saturated {
			full = append(full, k)
		}
		z.Level[k], z.ULevel[k] = stat.Mean(x, nil), stats.BatchMeanSE(x)
		var span float64
		z.Noise[k], span = withinBatches(x)
		// The batch means of pure noise span more than this in one of some 100,000 cells (studentized range of 10 with 90 degrees of freedom, scipy 1.10).
		byNoise := 8 * z.Noise[k] / math.Sqrt(float64(len(x)/zeroBatches))
		if span > max(1, maxWander*float64(fullCounts), byNoise) {
			wander = append(wander, k)
		}
	}
	middle := median(z.Level)
	var high, out []int
	for k, level := range z.Level {
		switch up := level - middle; {
		case up > loadedShare*float64(fullCounts):
			high = append(high, k)
		case math.Abs(up) > zeroWarn*float64(fullCounts):
			out = append(out, k)
		}
	}
	switch {
	case len(full) > 0:
		return Zero{}, fmt.Errorf("unloaded, %s saturated: take everything off the strip; if nothing is on it, it is broken there", cellsText(full, "is", "are"))
	case middle > loadedShare*float64(fullCounts):
		return Zero{}, fmt.Errorf("the strip reads %.0f counts, %.0f %% of full scale: something lies on it; take it off and repeat", middle, 100*middle/float64(fullCounts))
	case len(high) > 0:
		return Zero{}, fmt.Errorf("%s far more than the other cells: take off what lies there and repeat; if nothing does, repair the strip", cellsText(high, "reads", "read"))
	case len(wander) > 0:
		return Zero{}, fmt.Errorf("%s while nothing should change: leave the strip alone, let it warm up for some minutes and repeat", cellsText(wander, "wanders", "wander"))
	}
	if len(out) > 0 {
		z.Warnings = append(z.Warnings, fmt.Sprintf("unloaded, %s more than 2 %% of full scale from the middle cell: is the strip creased or pressed there?", cellsText(out, "is", "are")))
	}
	return z, nil
}

// withinBatches returns the standard deviation of x within its batches, at least
// that of rounding to whole counts, and the range of the batch means.
func withinBatches(x []float64) (sd, span float64) {
	lo, hi, squares := math.Inf(1), math.Inf(-1), 0.0
	for b := range zeroBatches {
		part := x[b*len(x)/zeroBatches : (b+1)*len(x)/zeroBatches]
		mean, variance := stat.MeanVariance(part, nil)
		lo, hi = min(lo, mean), max(hi, mean)
		squares += variance * float64(len(part)-1)
	}
	sd = math.Sqrt(squares / float64(len(x)-zeroBatches))
	return max(sd, 1/math.Sqrt(12)), hi - lo
}

// cellsText names cells with a verb in singular or plural.
func cellsText(cells []int, one, many string) string {
	if len(cells) == 1 {
		return cellNames(cells) + " " + one
	}
	return cellNames(cells) + " " + many
}
