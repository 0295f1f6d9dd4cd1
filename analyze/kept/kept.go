// Package kept makes rows of the logbook of what analysis found.
package kept

import (
	"math"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
)

// Releves returns the relevés of a result as the logbook keeps them: every
// measure of the Catalog by its name. Discarded relevés are left out, since they
// count in no mean; so a number n may be missing.
//
// The standard uncertainty is that of the Measures where they have one, mounting
// included; else what mounting and gains give together, and nil where neither
// reaches the measure.
func Releves(r *analyze.Result) []logbook.Releve {
	all := []logbook.Releve{}
	for i := range r.Releves {
		one := &r.Releves[i]
		if one.Discarded {
			continue
		}
		row := logbook.Releve{N: one.N, Foot: one.Foot, FeetUp: one.FeetUp, StartS: one.StartS, Aborted: !one.Counts()}
		if one.Counts() {
			row.Verdict = string(one.Verdict)
			for _, c := range analyze.Catalog {
				if v, ok := c.Of(one.Measures); ok {
					row.Measures = append(row.Measures, logbook.Measure{Name: c.Name, Value: v, U: uncertainty(one.Measures, c.Name)})
				}
			}
		}
		all = append(all, row)
	}
	return all
}

func uncertainty(m *analyze.Measures, name string) *float64 {
	switch name {
	case "over_mm":
		return &m.UOverMM
	case "medial_mm":
		return &m.UMedialMM
	case "contact_share":
		return &m.UContactShare
	case "load_n":
		return &m.ULoadN
	}
	seat, ok := m.Seat[name]
	gain, also := m.Gain[name]
	if !ok && !also {
		return nil
	}
	u := math.Hypot(seat, gain.U())
	return &u
}
