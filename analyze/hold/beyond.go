package hold

import (
	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// BeyondStrip is the source of uncertainty that the platform reaches beyond the strip in
// a mounting, so that the load there is not measured.
const BeyondStrip measure.Source = "beyond strip"

// beyondSeatSD is the number of standard deviations by which an assumed seat may be off
// in either direction.
const beyondSeatSD = 2

// fromBeyond bounds the load that the platform bears beyond the strip. Where the seat was
// found, the bound is the load that the fit computes there plus twice its standard
// uncertainty; the fit's interval of contact share already includes it. Where the seat is
// assumed, the part of the platform beyond a strip that is off by two standard deviations
// may bear up to the largest pressure of a cell, and may or may not be in contact.
func fromBeyond(in *Instrument, t *Typical) effectOf {
	e := measure.Effect{Source: BeyondStrip, Type: measure.TypeB, Distribution: measure.Rectangular, Common: measure.OfMounting}
	if in.seat != nil {
		return func(h *Hold, _ *holdResult) measure.Effect {
			e := e
			if h.found == nil || h.found.cop.BeyondN == 0 {
				e.Basis = "the strip covers the whole loaded area"
				return e
			}
			e.Basis = "the load that the fit of the seat puts beyond the strip, and twice its standard uncertainty"
			c := &h.found.cop
			e.U = withUnlimitedDOF(map[measure.Measure]float64{measure.Load: budget.UniformWithin(c.BeyondN + 2*c.UBeyondN)})
			return e
		}
	}
	area := in.uncovered(beyondSeatSD * in.Strip.Mount.SeatSDMM)
	if area == 0 {
		e.Basis = "the strip covers the platform, two standard deviations of a mounting included"
		return constantEffect(e)
	}
	e.Basis = "the part of the platform beyond the strip when it lies off by two standard deviations of a mounting"
	e.U = withUnlimitedDOF(map[measure.Measure]float64{
		measure.Load:         budget.UniformWithin(area * t.hold.PeakKPa / 1000),
		measure.ContactShare: budget.UniformWithin(area / in.Grid.Area),
	})
	return constantEffect(e)
}

// uncovered returns the largest area of the platform, mm², that lies beyond the strip when
// the strip is off by d, mm, along one of the axes.
func (in *Instrument) uncovered(d float64) float64 {
	strip, most := *in.Strip, 0.0
	for _, off := range []platform.Point{{d, 0}, {-d, 0}, {0, d}, {0, -d}} {
		strip.Mount.OffsetMM = [2]float64{in.Strip.Mount.OffsetMM[0] + off[0], in.Strip.Mount.OffsetMM[1] + off[1]}
		most = max(most, 1-strip.CoveredShare(in.Grid.Outline))
	}
	if most < 1e-9 { // clipping is exact only to rounding
		return 0
	}
	return most * in.Grid.Area
}
