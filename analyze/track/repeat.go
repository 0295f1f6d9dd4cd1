package track

import (
	"fmt"
	"math"

	"aplomb/analyze/stats"
)

// minDOF is the least number of degrees of freedom of a repeatability: our own
// choice. With 5 the minimal detectable change is 1.3 times as large as with many.
const minDOF = 5

// SEMSource is the kind of repetition from which the standard error of
// measurement was estimated.
type SEMSource string

const (
	BaselineVisits SEMSource = "baseline"    // baseline visits: mounting, day and dancer vary
	Remountings    SEMSource = "remountings" // mountings on one day: no variation between days
)

// Repeatability is the repeatability of a measure while nothing changes.
type Repeatability struct {
	SEM    float64   `json:"sem"`   // standard error of measurement, √ of the mean square within groups, unit of the measure
	DOF    float64   `json:"dof"`   // degrees of freedom of SEM
	MDC95  float64   `json:"mdc95"` // minimal detectable change, t·√2·SEM, see MDC95
	From   SEMSource `json:"from"`
	Pooled bool      `json:"pooled"`          // over all dancers, because this dancer has too few repetitions
	Groups int       `json:"groups"`          // number of groups of visits or mountings between which no change is expected; 0 where Study is set
	Study  string    `json:"study,omitempty"` // name of the study that it was taken from
	// Coverage is the share of random changes within ±MDC95: 0.95, whatever the degrees of
	// freedom of SEM.
	Coverage float64 `json:"holds"`
}

// OfStudy returns the repeatability found in a study: its standard error of measurement
// sem with dof degrees of freedom. It returns an error where they are too few.
func OfStudy(study string, sem, dof float64, from SEMSource) (*Repeatability, error) {
	if !(dof >= minDOF) || !(sem >= 0) {
		return nil, fmt.Errorf("%s: a standard error of measurement with %.0f degrees of freedom says too little: %d or more are needed", study, dof, minDOF)
	}
	return &Repeatability{SEM: sem, DOF: dof, MDC95: MDC95(sem, dof), From: from, Pooled: true, Coverage: 0.95, Study: study}, nil
}

// repeatability returns the repeatability for a history. It uses the first of the
// following that has enough degrees of freedom: this dancer's baseline visits, this
// dancer's remountings, the baseline visits of all dancers, the remountings of all
// dancers. It is nil where none has.
//
// Visits after the baseline are never compared with each other, because recovery would
// count as error. Remountings within one of them are compared, because there is no
// recovery between two mountings on one day.
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
					SEM: sem, DOF: dof, MDC95: MDC95(sem, dof), From: from, Pooled: c.pooled,
					Groups: len(groups), Coverage: 0.95,
				}
			}
		}
	}
	return nil
}

// remounted returns the number of mountings of the dancer of r, on its side, beyond the
// first of their visit.
func remounted(r *history, all []*history) (n int) {
	for _, o := range all {
		if o.side == r.side && o.dancer == r.dancer {
			for _, group := range o.stableGroups(Remountings) {
				n += len(group) - 1
			}
		}
	}
	return n
}

// MDC95 is the minimal detectable change of a measure with the standard error of
// measurement sem with dof degrees of freedom: the smallest change that exceeds 95 % of
// the differences between two visits while nothing changes (Weir, Journal of Strength and
// Conditioning Research 19 (2005) 231-240, who assumes that sem is known exactly and uses
// 1.96 instead of the quantile of Student's t).
func MDC95(sem, dof float64) float64 { return stats.TQuantile(0.975, dof) * math.Sqrt2 * sem }

// stableGroups returns groups of values between which no change is expected.
func (r *history) stableGroups(from SEMSource) (groups [][]float64) {
	if from == Remountings {
		for _, v := range r.visits {
			if m := means(v.byMounting(true)); len(m) > 1 {
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
