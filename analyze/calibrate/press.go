package calibrate

import (
	"fmt"
	"math"

	"aplomb/analyze/field"
	"aplomb/device"
	"aplomb/device/platform"
)

// LoadChangedAt returns the time of the last change of load on the strip, s on the clock
// of timeS: the last time at which the mean of all cells crossed the midpoint between its
// level at the end and the level furthest from that. Where the change does not exceed
// noise and creep, the load was on before the first frame, and the result is the time of
// that frame. zero is nil where it is subtracted already. There must be at least one
// frame.
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
	minChange      = 0.1 // share of the level at the end; a smaller change is creep
	minChangeNoise = 8   // in median steps from frame to frame; a smaller change is noise
)

// Settled returns the mean net counts of each cell over the frames from one
// second after the last change of load, and the number n of these frames. It
// returns an error for saturated cells, and where there is no such frame.
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

// Unsaturated returns an error for frames with a saturated cell, whose reading is
// a lower bound.
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

// LoadAndCoP returns the load, N, and the centre of pressure, [medial, over] in
// mm from the centre of the strip, for the mean net counts of its cells over n
// frames. The centre of pressure is NaN where the load is too small. The strip
// lies flat on a bench without a shoe: its seat is left out, and its own grid is
// the outline.
func LoadAndCoP(strip *device.Strip, mean []float64, n int) (loadN float64, at platform.Point) {
	bare := *strip
	bare.Mount = device.Mount{}
	curve := bare.Curve()
	kPa, noise := make([]float64, len(mean)), make([]float64, len(mean))
	for k, y := range mean {
		kPa[k] = curve.KPa(k, y)
		sd := math.Sqrt(1. / 12) // that of rounding, where the noise is not known
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

// UnderPad returns the cells wholly under a pad of this width and depth, mm, with
// its centre at the point at, mm from the centre of the strip. It returns an
// error for a pad that extends beyond the strip, whose load would act on less
// than its area, and for one that covers no cell.
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

// CoversAll returns an error for an area, mm², that cannot be that of a pad over
// exactly all cells.
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
