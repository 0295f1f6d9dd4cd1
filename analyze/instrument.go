package analyze

import (
	"aplomb/analyze/cells"
	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/platform"
)

// instrument is what one foot is measured with: the strip where its profile
// places it under the platform.
type instrument struct {
	strip   *device.Strip
	curve   *device.Curve
	covered float64     // share of the outline under the strip, 0..1
	grid    *field.Grid // without the lost cells
	weights []field.Weight
	lost    []lostCell
}

func newInstrument(side *device.Side) *instrument {
	outline := side.Shoe.Outline()
	in := &instrument{strip: side.Strip, curve: side.Strip.Curve(), covered: side.Strip.Covers(outline), grid: field.New(side.Strip, outline)}
	in.weights = in.grid.Weights()
	return in
}

// perFrame returns the load, N, and the centre of pressure, mm, that the weights
// for single frames give a map of pressures, kPa.
func (in *instrument) perFrame(kPa []float64) (load float64, at platform.Point) {
	for k, w := range in.weights {
		load += kPa[k] * w.LoadN
		at[0] += kPa[k] * w.MedialNMM
		at[1] += kPa[k] * w.OverNMM
	}
	return load, platform.Point{at[0] / load, at[1] / load}
}

// noise returns the standard deviation of the k-th cell in a recording, counts.
// It is no less than the calibration found, since a recording may hold few
// unloaded frames to tell it from.
func (in *instrument) noise(l *trace.Log, k int) float64 {
	if calibrated := in.strip.Calibration.NoiseCounts; len(calibrated) > 0 {
		return max(l.Noise[k], calibrated[k])
	}
	return l.Noise[k]
}

// covers is the share of the outline under the strip from which on no warning is given.
const covers = 0.99

// coverage returns the warning that a strip is smaller than its platform, which
// concerns every number it measures; nil where it covers the platform.
func (in *instrument) coverage() []measure.Warning {
	if in.covered >= covers {
		return nil
	}
	return []measure.Warning{measure.Warn(measure.StripSmall, measure.Values{Strip: in.strip.Name, Percent: 100 * in.covered})}
}

// lostCell is a cell that does not measure.
type lostCell struct {
	k     int // its place in the scan
	cell  cells.Cell
	fault cells.Kind
}
