package track

import (
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/sensor"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// estimate is the mean of a visit with the sources of its uncertainty, which are those of
// a mean in package compare.
type estimate struct {
	mean       float64 // of the means of its mountings
	perReleve  float64 // weight of the variance of one relevé in the variance of mean
	scatter    float64 // standard deviation of relevés within a mounting
	scatterDOF float64 // 0 where it is not known
	mountings  float64
	seat       stats.Component // of one mounting
	effect     mounting.Share  // other differences between mountings, of one mounting
	strips     []sensor.Mean   // other errors that the relevés have in common, by foot from which the value is computed
}

// estimateOf returns the estimate of a visit. The scatter is that of the visit, or else
// that of all visits of the history.
func (r *history) estimateOf(v *visit, of mounting.Effect) estimate {
	groups := v.groups()
	e := estimate{mean: v.mean(), mountings: float64(len(groups)), seat: stats.Component{DOF: math.Inf(1)}}
	if e.scatter, e.scatterDOF = scatterOf(groups); e.scatterDOF == 0 {
		var all [][]float64
		for _, one := range r.visits {
			all = append(all, one.groups()...)
		}
		e.scatter, e.scatterDOF = stats.PooledSD(all)
	}
	for _, g := range groups {
		e.perReleve += 1 / (float64(len(g)) * e.mountings * e.mountings)
	}
	n := 0.0
	for _, s := range v.sets {
		n += float64(len(s.value))
	}
	for _, s := range v.sets {
		for i, u := range s.seatU {
			e.seat.U += u / n
			if u > 0 {
				e.seat.DOF = min(e.seat.DOF, s.seatDOF[i])
			}
		}
	}
	for foot := range v.sets[0].from[0] { // one, or left and right
		value := 0.0
		strip := sensor.NewMean(v.contents(foot)...)
		for _, s := range v.sets {
			for _, from := range s.from {
				value += from[foot].Value / n
				strip.Add(from[foot].sensor(), n)
			}
		}
		e.effect = e.effect.Plus(of.Share(value))
		e.strips = append(e.strips, strip)
	}
	return e
}

// contents returns the distinct contents of the strips of a visit, for the first or
// second foot of the value.
func (v *visit) contents(foot int) (all []string) {
	for _, s := range v.sets {
		for _, from := range s.from {
			if k := from[foot].Content; !slices.Contains(all, k) {
				all = append(all, k)
			}
		}
	}
	return all
}

// scatterOf returns the standard deviation of relevés within mountings. Where every
// mounting has one relevé it is that between mountings, which is too large rather than
// too small.
func scatterOf(groups [][]float64) (sd, dof float64) {
	if slices.ContainsFunc(groups, func(g []float64) bool { return len(g) > 1 }) {
		return stats.PooledSD(groups)
	}
	return stats.PooledSD([][]float64{slices.Concat(groups...)})
}

// dancer returns the component due to the scatter of relevés.
func (e estimate) dancer() stats.Component {
	return stats.Component{U: e.scatter * math.Sqrt(e.perReleve), DOF: e.scatterDOF}
}

// Uncertainty is the uncertainty of a value, in the unit of the measure.
type Uncertainty struct {
	U    float64     `json:"u"`            // standard uncertainty
	DOF  measure.DOF `json:"dof,omitzero"` // effective degrees of freedom of U; absent where unlimited
	CI95 [2]float64  `json:"ci95"`         // by Student's t; that of a mean share is cut to 0 to 1
}

// uncertainty returns the uncertainty of the mean, nil where the scatter of relevés is not
// known.
func (e estimate) uncertainty() *Uncertainty {
	parts := []stats.Component{e.dancer(), e.effect.Times(1 / e.mountings).With(e.seatOfMean())}
	for _, strip := range e.strips {
		parts = append(parts, strip.Components()...)
	}
	return uncertaintyOf(e.mean, e.scatterDOF > 0, parts...)
}

// seatOfMean returns the component of the seats in the mean.
func (e estimate) seatOfMean() stats.Component {
	return stats.Component{U: e.seat.U / math.Sqrt(e.mountings), DOF: e.seat.DOF}
}

// changeFrom returns the uncertainty of the difference from another visit, nil where the
// scatter of relevés is not known. The seats are one estimate with one number of degrees
// of freedom, and so is the mounting effect, as in a difference between shoes. Errors
// that both visits have in common through their strip cancel as between shoes, see
// sensor.Mean.
func (e estimate) changeFrom(o estimate) *Uncertainty {
	a, b := o.seatOfMean(), e.seatOfMean()
	seat := stats.Component{U: math.Hypot(a.U, b.U), DOF: min(a.DOF, b.DOF)}
	effect := o.effect.Times(1 / o.mountings).Plus(e.effect.Times(1 / e.mountings))
	known := o.scatterDOF > 0 && e.scatterDOF > 0
	parts := []stats.Component{o.dancer(), e.dancer(), effect.With(seat)}
	for foot := range e.strips {
		others, gains := e.strips[foot].DifferenceFrom(o.strips[foot])
		parts = slices.Concat(parts, others, gains)
	}
	return uncertaintyOf(e.mean-o.mean, known, parts...)
}

// uncertaintyOf returns the combined uncertainty of a value, nil unless it is known.
func uncertaintyOf(value float64, known bool, parts ...stats.Component) *Uncertainty {
	if !known {
		return nil
	}
	u, dof := stats.Combined(parts...), stats.EffectiveDOF(parts...)
	i := stats.Interval95(value, u, dof)
	return &Uncertainty{U: u, DOF: measure.DOF(dof), CI95: [2]float64{i.Lo, i.Hi}}
}

// cut limits the interval to values between lo and hi, where there is one.
func (u *Uncertainty) cut(lo, hi float64) {
	if u != nil {
		u.CI95 = [2]float64{max(lo, u.CI95[0]), min(hi, u.CI95[1])}
	}
}

// excludesZero reports whether the interval excludes 0.
func (u *Uncertainty) excludesZero() bool { return u.CI95[0] > 0 || u.CI95[1] < 0 }

// mountingEffect returns the mounting effect of a dancer, estimated from the repeated
// mountings in rows. Mountings of different visits are never compared.
func mountingEffect(m measure.Measure, dancer string, rows []Row) mounting.Effect {
	var all []mounting.Row
	for _, r := range rows {
		if m == perPair && r.Foot == device.Right {
			continue // one number for both feet
		}
		all = append(all, mounting.Row{
			Dancer: r.Dancer, Recording: r.Recording, Mounting: r.Mounting, Measure: m, Value: r.Value, SeatU: r.USeat, Evidence: r.Evidence,
			Group: fmt.Sprintf("%s, %s, %s, %s, %s, %+v, %s", r.Shoe, r.Version, r.Foot, r.Support, r.Rise, r.Also, r.Visit),
		})
	}
	return mounting.New(all).Effect(dancer, m)
}
