package track

import (
	"math"

	"aplomb/analyze/stats"
)

// fewest is how many degrees of freedom it takes to say how well a measure
// repeats: our own choice. With 5 a band meant for 95 % holds 89 %.
const minDOF = 5

// Source says where the standard error of measurement comes from.
type SEMSource string

const (
	BaselineVisits SEMSource = "baseline"    // from one baseline visit to another: mounting, day and dancer
	Remountings    SEMSource = "remountings" // from one mounting to another on one day: no day-to-day variation
)

// Repeat says how well a measure repeats when nothing has changed.
type Repeatability struct {
	SEM    float64   `json:"sem"`   // standard error of measurement: √ of the mean square within subjects
	DOF    float64   `json:"dof"`   // of SEM
	MDC95  float64   `json:"mdc95"` // minimal detectable change, 1.96·√2·SEM
	From   SEMSource `json:"from"`
	Pooled bool      `json:"pooled"` // over dancers, because this one has too few
	Groups int       `json:"groups"` // of visits or mountings between which nothing should have changed
	// Holds is the share of changes by chance that the band ±MDC95 holds, SEM
	// being known to DOF only: 0.95 where it is known well.
	Coverage float64 `json:"holds"`
}

// repeatOf finds how well r repeats, from what comes first in this order and has
// enough: this dancer's baseline visits, this dancer's remountings, then those
// of every dancer in the same order. Nil where none has.
//
// Visits after the baseline never enter against each other, or recovery would
// count as error. Remountings within one of them do: between two mountings on
// one day nobody recovers.
func repeatability(r *history, all []*history) *Repeatability {
	own := func(o *history) bool { return o.side == r.side && o.dancer == r.dancer }
	anyone := func(o *history) bool { return o.side == r.side }
	for _, c := range []struct {
		of     func(*history) bool
		pooled bool
	}{{own, false}, {anyone, true}} {
		for _, from := range []SEMSource{BaselineVisits, Remountings} {
			var groups [][]float64
			for _, o := range all {
				if c.of(o) {
					groups = append(groups, o.stableGroups(from)...)
				}
			}
			if sem, dof := stats.PooledSD(groups); dof >= minDOF {
				return &Repeatability{
					SEM: sem, DOF: dof, MDC95: MDC95(sem), From: from, Pooled: c.pooled,
					Groups: len(groups), Coverage: 1 - stats.TwoSided(1.96, dof),
				}
			}
		}
	}
	return nil
}

// MDC95 is the minimal detectable change of a measure whose standard error of
// measurement is sem: the smallest change between two visits that lies beyond
// what 95 % of pairs of visits differ by when nothing has changed (Weir, Journal
// of Strength and Conditioning Research 19 (2005) 231-240, from memory).
func MDC95(sem float64) float64 { return 1.96 * math.Sqrt2 * sem }

// unchanged returns groups of values between which nothing should have changed.
func (r *history) stableGroups(from SEMSource) (groups [][]float64) {
	if from == Remountings {
		for _, v := range r.visits {
			if m := v.mountings(true); len(m) > 1 {
				groups = append(groups, m)
			}
		}
		return groups
	}
	var visits []float64
	for _, v := range r.visits {
		if v.baseline {
			visits = append(visits, v.mean())
		}
	}
	if len(visits) > 1 {
		groups = append(groups, visits)
	}
	return groups
}
