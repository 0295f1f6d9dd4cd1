package analyze

import (
	"math"
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/trace"
)

// The physical corrections of what a strip reads, in the order in which they
// act. Each stands by itself, with the uncertainty that it adds:
//
//	correction  acts on                            code                uncertainty
//	baseline    the counts of every frame          package baseline    fromZeroDrift, baseline.go
//	curve       the counts above the baseline      device.Curve        fromGains, gain.go; fromHysteresis, hysteresis.go
//	crosstalk   the mean map of a hold             crosstalk.go        none is known; a warning where it fails
//	creep       the mean map of a hold             creep.go            fromCreep, creep.go
//	lost cells  the map when it is reconstructed   field.Grid.Without  fromLostCells, lost.go
//
// corrections are those that act on the mean map of a hold.
var corrections = []func(*instrument, *hold){
	removeCrosstalk,
	removeCreep,
}

// hold is the constant part of a relevé on one foot, with what its cells bore.
// Slices over cells are in the order of the scan.
type hold struct {
	pulse   releve.Pulse
	samples []measure.Sample

	read      []float64 // mean map above the baseline, through the curve, kPa
	pressure  []float64 // the same, corrected
	noise     []float64 // standard deviation of the mean map, kPa
	drift     []float64 // the baseline after the load less that of the hold, kPa; nil where the strip was not unloaded after it
	peakFrame float64   // largest pressure of a cell in a single frame, kPa

	creepBound     float64 // half-width of what creep may still add to the load, a share
	crosstalkStays bool    // crosstalk could not be removed
	saturated      bool    // a cell reached the end of its range
	frames         int     // in the mean map
	beyond         int     // of these, frames beyond the calibrated pressures, see trace.Map
}

// findHolds gathers the holds of all pulses of both feet and corrects them. A
// pulse has none where it never settled or has no centre of pressure.
func (r *recorded) findHolds(rises *rises) (holds [2][]*hold) {
	for f, l := range r.logs {
		if l == nil {
			continue
		}
		holds[f] = make([]*hold, len(rises.pulses[f]))
		for i, p := range rises.pulses[f] {
			holds[f][i] = r.instruments[f].holdOf(l, p)
		}
	}
	return holds
}

// holdOf returns the corrected hold of a pulse, nil where it has none.
func (in *instrument) holdOf(l *trace.Log, p releve.Pulse) *hold {
	if p.Aborted {
		return nil
	}
	zero := l.ZeroAt((p.HoldStartS + p.HoldEndS) / 2)
	m := l.Map(p.HoldStartS, p.HoldEndS, zero)
	if m.Frames == 0 {
		return nil
	}
	h := &hold{
		pulse: p, samples: within(l.Samples, p.HoldStartS, p.HoldEndS),
		read: m.KPa, pressure: m.KPa, noise: make([]float64, len(zero)), frames: m.Frames, beyond: m.Beyond,
	}
	if !slices.ContainsFunc(h.samples, hasPlace) {
		return nil // under load before the zero was known
	}
	for k := range zero {
		h.noise[k] = in.perCount(k, m.KPa[k]) * in.noise(l, k) / math.Sqrt(float64(m.Frames))
		if in.isLost(k) {
			continue
		}
		h.peakFrame = max(h.peakFrame, m.PeakKPa[k])
		h.saturated = h.saturated || int(m.Peak[k]) >= in.strip.SaturatesAt
	}
	// The map leaves out up to a tenth of a second at either end, which only the
	// samples show. A sample does not say which cell it was, so it counts only
	// where no cell is lost.
	h.saturated = h.saturated || len(in.lost) == 0 && slices.ContainsFunc(h.samples, func(s measure.Sample) bool { return s.Flags&measure.Saturated != 0 })
	if after := l.ZeroAfter(p.EndS); after != nil {
		h.drift = make([]float64, len(zero))
		for k := range zero {
			h.drift[k] = in.perCount(k, m.KPa[k]) * (after[k] - zero[k])
		}
	}
	for _, correct := range corrections {
		correct(in, h)
	}
	if load, _ := in.perFrame(h.pressure); load < field.LoadFloorN {
		return nil // the pulse is just above the floor, its map just below
	}
	return h
}

// perCount returns how much pressure one count more is at a pressure, kPa.
func (in *instrument) perCount(k int, kPa float64) float64 {
	return in.curve.PerCount(k, in.curve.Counts(k, kPa))
}

// hasPlace says whether a sample has a centre of pressure.
func hasPlace(s measure.Sample) bool { return s.OverMM == s.OverMM } // not NaN
