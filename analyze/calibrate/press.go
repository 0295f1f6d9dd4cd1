package calibrate

import (
	"fmt"
	"math"

	"aplomb/analyze/field"
	"aplomb/device"
	"aplomb/device/platform"
)

// Since returns when what lies on the strip last changed, s on the clock of
// timeS: when the mean of all cells last crossed half way between the end of
// the frames and what was furthest from it. Where nothing changed by more than
// noise and creep do, the weight was on before the first frame, and that is the
// time. zero may be nil where it is taken off already. There must be frames.
func LoadChangedAt(timeS []float64, frames [][]uint16, zero []float64) float64 {
	level := make([]float64, len(frames))
	for i, f := range frames {
		for k := range f {
			level[i] += netCounts(f[k], zero, k) / float64(len(f))
		}
	}
	end := median(level[len(level)-max(1, len(level)/5):])
	furthest, jumps := 0.0, make([]float64, 0, len(level))
	for i, y := range level {
		furthest = max(furthest, math.Abs(y-end))
		if i > 0 {
			jumps = append(jumps, math.Abs(y-level[i-1]))
		}
	}
	on := timeS[0]
	if furthest < minChange*math.Abs(end) || !(furthest > 1+minChangeNoise*median(jumps)) {
		return on
	}
	for i, y := range level {
		if math.Abs(y-end) > furthest/2 {
			on = timeS[i]
		}
	}
	return on
}

const (
	minChange      = 0.1 // of the level at the end: less is creep
	minChangeNoise = 8   // middle steps from frame to frame: less is noise
)

// Settled returns the mean counts of each cell above its zero, from one second
// after what lies on the strip last changed, and over how many frames. It
// refuses saturated cells, and frames that end before the second is over.
func Settled(timeS []float64, frames [][]uint16, zero []float64, fullCounts int) (mean []float64, n int, err error) {
	if len(frames) == 0 {
		return nil, 0, fmt.Errorf("no frames: read the strip under the load")
	}
	cells := len(frames[0])
	if zero != nil && len(zero) != cells {
		return nil, 0, fmt.Errorf("zeros of %d cells, frames of %d: is it another strip's zero?", len(zero), cells)
	}
	if err := sameLength(timeS, frames, cells); err != nil {
		return nil, 0, err
	}
	if err := Unsaturated(frames, fullCounts); err != nil {
		return nil, 0, err
	}
	from := LoadChangedAt(timeS, frames, zero) + settleS
	mean = make([]float64, cells)
	for i, f := range frames {
		if timeS[i] < from {
			continue
		}
		n++
		for k := range f {
			mean[k] += netCounts(f[k], zero, k)
		}
	}
	if n == 0 {
		return nil, 0, fmt.Errorf("no frame later than %v s after the load changed: leave it on for longer", settleS)
	}
	for k := range mean {
		mean[k] /= float64(n)
	}
	return mean, n, nil
}

// Unsaturated refuses frames with a saturated cell: what it read is a lower bound.
func Unsaturated(frames [][]uint16, fullCounts int) error {
	for _, f := range frames {
		for k, y := range f {
			if int(y) >= fullCounts {
				return fmt.Errorf("cell %d of the scan is saturated: press less, or spread the load", k+1)
			}
		}
	}
	return nil
}

// Feel returns what the strip itself makes of the mean counts of its cells above
// their zero over n frames: the load, N, and the centre of pressure, mm from the
// strip's middle [medial, over], not numbers where the load is too small to have
// one. The strip lies flat on a bench, under no shoe: how it is mounted is left
// out, and its own grid is the outline.
func LoadAndCoP(strip *device.Strip, mean []float64, n int) (loadN float64, at platform.Point) {
	bare := *strip
	bare.Mount = device.Mount{}
	curve := bare.Curve()
	kPa, noise := make([]float64, len(mean)), make([]float64, len(mean))
	for k, y := range mean {
		kPa[k] = curve.KPa(k, y)
		sd := math.Sqrt(1. / 12) // rounding, where nothing is known
		if len(strip.Calibration.NoiseCounts) > 0 {
			sd = strip.Calibration.NoiseCounts[k]
		}
		noise[k] = sd * curve.PerCount(k, y) / math.Sqrt(float64(n))
	}
	m := field.New(&bare, bare.Outline()).Reconstruct(kPa, noise)
	if !m.CoPOK {
		return m.LoadN, platform.Point{math.NaN(), math.NaN()}
	}
	return m.LoadN, m.CoP
}

// UnderPad returns the cells that lie wholly under a pad of that width and
// depth, mm, its middle at a place, mm from the strip's. It refuses a pad that
// hangs over the strip, whose load would be on less than its area, and one that
// covers no cell.
func UnderPad(strip *device.Strip, at platform.Point, sizeMM [2]float64) (under []int, err error) {
	bare := *strip
	bare.Mount = device.Mount{}
	pad := platform.Rectangle(sizeMM[0], sizeMM[1]).Shift(at)
	if on := pad.Clip(bare.Outline()).Area(); !(on > 0.999*pad.Area()) {
		return nil, fmt.Errorf("of the pad's %.4g mm² only %.4g lie on the strip: move it, or take a smaller one", pad.Area(), on)
	}
	for k := range bare.Cells() {
		cell := platform.Rectangle(bare.CellMM[0], bare.CellMM[1]).Shift(bare.Centre(bare.RowCol(k)))
		if cell.Clip(pad).Area() > 0.999*cell.Area() {
			under = append(under, k)
		}
	}
	if len(under) == 0 {
		return nil, fmt.Errorf("no cell lies wholly under a pad of %v × %v mm at [%v, %v]: take a larger one, or lay it over whole cells", sizeMM[0], sizeMM[1], at[0], at[1])
	}
	return under, nil
}

// CoversAll refuses the area of a pad, mm², that cannot be that of one over all
// cells and nothing else.
func CoversAll(strip *device.Strip, areaMM2 float64) error {
	least, most := 1.0, 1.0
	for axis, n := range [2]int{strip.Cols, strip.Rows} {
		least *= float64(n-1)*strip.PitchMM[axis] + strip.CellMM[axis]
		most *= float64(n) * strip.PitchMM[axis]
	}
	switch {
	case areaMM2 > 1.01*most:
		return fmt.Errorf("a pad of %v mm² hangs over the strip, which has %v: take a smaller one, or what lies between has to bear the rest", areaMM2, most)
	case areaMM2 < 0.99*least:
		return fmt.Errorf("a pad of %v mm² does not cover all cells, which take %v: say which it covers, by its size and place", areaMM2, least)
	}
	return nil
}
