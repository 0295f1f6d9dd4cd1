package hold

import (
	"math"
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/trace"
)

// The physical corrections of a strip's readings, in the order in which they act. Each is
// independent of the others, and adds its own uncertainty:
//
//	correction  acts on                            code                uncertainty
//	baseline    the counts of every frame          package baseline    fromZeroDrift, baseline.go
//	curve       the counts above the baseline      device.Curve        fromGains, gain.go; fromHysteresis, hysteresis.go
//	crosstalk   the mean map of a hold             crosstalk.go        none is known; a warning where it fails
//	creep       the mean map of a hold             creep.go            fromCreep, creep.go
//	lost cells  the map when it is reconstructed   field.Grid.WithoutCells  fromLostCells, lost.go
//
// corrections lists those that act on the mean map of a hold.
var corrections = []func(*Instrument, *Hold){
	removeCrosstalk,
	removeCreep,
}

// Of returns the corrected hold of a pulse, nil where the pulse never settled or
// has no centre of pressure.
func (in *Instrument) Of(l *trace.Log, p releve.Pulse) *Hold {
	if p.Aborted {
		return nil
	}
	zero := l.ZeroAt((p.HoldStartS + p.HoldEndS) / 2)
	m := l.Map(p.HoldStartS, p.HoldEndS, zero)
	if m.Frames == 0 {
		return nil
	}
	h := &Hold{
		Pulse: p, samples: trace.Within(l.Samples, p.HoldStartS, p.HoldEndS),
		read: m.KPa, pressure: m.KPa, noise: make([]float64, len(zero)), Frames: m.Frames, Beyond: m.Beyond,
	}
	if !slices.ContainsFunc(h.samples, hasPlace) {
		return nil // under load before the zero was known
	}
	h.peaks = in.peaks(l, p, zero)
	for k := range zero {
		h.noise[k] = in.perCount(k, m.KPa[k]) * in.noise(l, k) / math.Sqrt(float64(m.Frames))
		if in.isLost(k) {
			continue
		}
		h.peakFrame = max(h.peakFrame, m.PeakKPa[k])
		if int(m.Peak[k]) >= in.Strip.SaturatesAt {
			h.saturated, h.atEnd = true, append(h.atEnd, k)
		}
	}
	// The map omits up to a tenth of a second at either end, for which only samples
	// exist. A sample does not say which cell was saturated, so it counts only where no
	// cell is lost.
	h.saturated = h.saturated || len(in.Lost) == 0 && slices.ContainsFunc(h.samples, func(s measure.Sample) bool { return s.Flags&measure.Saturated != 0 })
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
		return nil // the pulse is just above the load floor, its map just below
	}
	return h
}
