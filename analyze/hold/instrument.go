package hold

import (
	"aplomb/analyze/cells"
	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/platform"
)

// Instrument measures one foot. It is the strip at its seat under the platform, which is
// that of its profile or one that was found (see At).
type Instrument struct {
	Strip   *device.Strip // as its profile describes it
	Curve   *device.Curve
	Covered float64        // share of the outline under the strip, 0..1
	Grid    *field.Grid    // without the lost cells, at the seat
	weights []field.Weight // of single frames, at the profile's seat
	Lost    []LostCell
	seat    *seat.Seat // nil where it is assumed to be the profile's
}

// New returns the instrument of one foot of a recording.
func New(side *device.Side) *Instrument {
	outline := side.Shoe.Outline()
	in := &Instrument{Strip: side.Strip, Curve: side.Strip.Curve(), Covered: side.Strip.CoveredShare(outline), Grid: field.New(side.Strip, outline)}
	in.weights = in.Grid.Weights()
	return in
}

// perFrame returns the load, N, and the centre of pressure, mm, of a map of pressures,
// kPa, by the weights for single frames.
func (in *Instrument) perFrame(kPa []float64) (load float64, at platform.Point) {
	for k, w := range in.weights {
		load += kPa[k] * w.LoadN
		at[0] += kPa[k] * w.MedialNMM
		at[1] += kPa[k] * w.OverNMM
	}
	return load, in.reseated(platform.Point{at[0] / load, at[1] / load})
}

// noise returns the standard deviation of the k-th cell in a recording, counts. It is at
// least that of the calibration, since a recording may have few unloaded frames to
// estimate it from.
func (in *Instrument) noise(l *trace.Log, k int) float64 {
	if calibrated := in.Strip.Calibration.NoiseCounts; len(calibrated) > 0 {
		return max(l.Noise[k], calibrated[k])
	}
	return l.Noise[k]
}

// LostCell is a cell that does not measure.
type LostCell struct {
	K     int // its place in the scan
	cell  cells.Cell
	fault cells.FaultKind
}

// perCount returns the change of pressure for one count at a pressure, kPa.
func (in *Instrument) perCount(k int, kPa float64) float64 {
	return in.Curve.PerCount(k, in.Curve.Counts(k, kPa))
}

func (in *Instrument) isLost(k int) bool {
	for _, l := range in.Lost {
		if l.K == k {
			return true
		}
	}
	return false
}

// Faulty describes the lost cells with these indices in the scan.
func (in *Instrument) Faulty(at []int) []measure.FaultyCell {
	var all []measure.FaultyCell
	for _, k := range at {
		for _, l := range in.Lost {
			if l.K == k {
				all = append(all, measure.FaultyCell{Row: l.cell.Row + 1, Column: l.cell.Col + 1, Fault: string(l.fault)})
			}
		}
	}
	return all
}
