// Package kept makes rows of the logbook of what analysis found.
package kept

import (
	"math"

	"aplomb/analyze/budget"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
)

// Releves returns the relevés of a result as the logbook keeps them: every
// measure of the Catalog by its name. Discarded relevés are left out, since they
// count in no mean; so a number n may be missing.
//
// The standard uncertainty is that of the Measures where they have one, mounting
// included; else what mounting and gains give together, and nil where neither
// reaches the measure.
func Releves(r *measure.Result) []logbook.Releve {
	all := []logbook.Releve{}
	for i := range r.Releves {
		one := &r.Releves[i]
		if one.Discarded {
			continue
		}
		row := logbook.Releve{N: one.N, Foot: one.Foot, FeetUp: one.FeetUp, StartS: one.StartS, Aborted: !one.Counts()}
		if one.Counts() {
			row.Verdict = string(one.Verdict)
			for _, m := range measure.All() {
				if v, ok := one.Value(m); ok {
					row.Measures = append(row.Measures, logbook.Measure{Name: m.Symbol(), Value: v, U: uncertainty(one.Hold, m)})
				}
			}
		}
		all = append(all, row)
	}
	return all
}

func uncertainty(h *measure.Hold, m measure.Measure) *float64 {
	switch m {
	case measure.Over:
		return &h.UOverMM
	case measure.Medial:
		return &h.UMedialMM
	case measure.ContactShare:
		return &h.UContactShare
	case measure.Load:
		return &h.ULoadN
	}
	u, known := 0.0, false
	for i := range h.Effects {
		e := &h.Effects[i]
		seat := e.Common == measure.OfMounting && e.U[m].U > 0
		gain := e.Common == measure.OfStrip && len(e.Draws[m]) > 0
		if seat || gain {
			u, known = math.Hypot(u, budget.OfEffect(e, m).U), true
		}
	}
	if !known {
		return nil
	}
	return &u
}
