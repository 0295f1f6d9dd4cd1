package budget

import (
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// OfMeasure returns the standard uncertainty of a measure of a hold with its degrees of
// freedom: what the hold states, or else the combined contributions of seat and gains. It
// is nil where neither affects the measure.
func OfMeasure(h *measure.Hold, m measure.Measure) (*float64, measure.DOF) {
	switch m {
	case measure.Over:
		return &h.UOverMM, h.DOFOver
	case measure.Medial:
		return &h.UMedialMM, h.DOFMedial
	case measure.ContactShare:
		return &h.UContactShare, h.DOFContactShare
	case measure.Load:
		return &h.ULoadN, h.DOFLoad
	case measure.OverChange:
		return &h.Settling.Over.U, h.Settling.Over.DOF
	case measure.PeakOverChange:
		return &h.Settling.PeakOver.U, h.Settling.PeakOver.DOF
	case measure.PeakMedialChange:
		return &h.Settling.PeakMedial.U, h.Settling.PeakMedial.DOF
	}
	var parts []stats.Component
	for i := range h.Effects {
		e := &h.Effects[i]
		seat := e.Common == measure.OfMounting && e.U[m].U > 0
		gain := e.Source == measure.Gain && len(e.Draws[m]) > 0
		if seat || gain {
			one := OfEffect(e, m)
			parts = append(parts, stats.Component{U: one.U, DOF: float64(one.DOF)})
		}
	}
	if parts == nil {
		return nil, measure.Unlimited
	}
	u := stats.Combined(parts...)
	return &u, measure.DOF(stats.EffectiveDOF(parts...))
}
