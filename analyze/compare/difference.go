package compare

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/stats"
)

// contrast is the difference of two means with the components of its uncertainty.
type contrast struct {
	difference    float64
	dancer, seat  []stats.Component // scatter of relevés; seats of the strips
	effect        mounting.Share    // what else differs between mountings
	days          mounting.Share    // what differs between visits beyond that
	sensor, gains []stats.Component // sensor without the gains of its cells, and these gains
	scatterKnown  bool              // the standard deviation of relevés is known
}

// contrastOf returns the difference of two samples of one foot: u² = s_A²/n_A + s_B²/n_B
// + (seat² + effect²)·(1/m_A + 1/m_B) + u_sensor² with n relevés in m mountings (JCGM
// 100:2008, 5.1.2). The standard deviation of a seat is one estimate, with one number of
// degrees of freedom, for both shoes; so is that of the mounting effect. Unless both
// samples are of one visit, day²·(1/v_A + 1/v_B) is added for v visits: the day effects
// of the two shoes are treated as independent.
func contrastOf(from, to sample) contrast {
	ma, mb := from.seat(), to.seat()
	strip, gains := to.sensor.DifferenceFrom(from.sensor)
	var days mounting.Share
	if from.visit == "" || from.visit != to.visit {
		days = from.days.Times(1 / from.visits).Plus(to.days.Times(1 / to.visits))
	}
	return contrast{
		days:         days,
		difference:   to.mean - from.mean,
		dancer:       []stats.Component{from.dancer(), to.dancer()},
		seat:         []stats.Component{{U: math.Hypot(ma.U, mb.U), DOF: min(ma.DOF, mb.DOF)}},
		effect:       from.effect.Times(1 / from.mountings).Plus(to.effect.Times(1 / to.mountings)),
		sensor:       strip,
		gains:        gains,
		scatterKnown: from.scatterDOF > 0 && to.scatterDOF > 0,
	}
}

// components returns all components.
func (c contrast) components() []stats.Component {
	return slices.Concat(c.dancer, c.sensor, c.gains, []stats.Component{c.mounting()})
}

// mounting returns the component of everything that differs between mountings and visits.
func (c contrast) mounting() stats.Component {
	return c.days.With(c.effect.With(stats.Component{U: stats.Combined(c.seat...), DOF: stats.EffectiveDOF(c.seat...)}))
}

// halfWidth returns the half-width of the 95 % interval.
func (c contrast) halfWidth() float64 {
	return stats.Interval95(0, stats.Combined(c.components()...), stats.EffectiveDOF(c.components()...)).Hi
}

// estimate returns the standard uncertainty of the difference, its degrees of
// freedom (nil where unlimited) and the 95 % interval, nil where the scatter of
// relevés is not known.
func (c contrast) estimate() (u float64, dof *float64, ci *[2]float64) {
	u = stats.Combined(c.components()...)
	if !c.scatterKnown {
		return u, nil, nil
	}
	nu := stats.EffectiveDOF(c.components()...)
	return u, finiteDOF(nu), interval(c.difference, u, nu)
}

// pValue returns the two-sided p-value of the t-test that corresponds to the 95 %
// interval, NaN without an interval.
func (c contrast) pValue() float64 {
	parts := c.components()
	u := stats.Combined(parts...)
	switch {
	case !c.scatterKnown:
		return math.NaN()
	case u == 0 && c.difference == 0:
		return 1
	}
	return stats.TwoSided(c.difference/u, stats.EffectiveDOF(parts...))
}

// wording returns the wording of the difference for its p-value adjusted for multiple
// testing, NaN where there is none.
func (c contrast) wording(adjusted float64) Wording {
	switch {
	case adjusted <= clearUpTo:
		return Clear
	case c.pValue() > clearUpTo && math.Abs(c.difference) > c.withoutMounting().halfWidth():
		return WithinMounting
	}
	return CouldBeChance
}

// withoutMounting and withoutGains return the contrast without the uncertainty of
// mounting and without that of the gains of cells.
func (c contrast) withoutMounting() contrast { c.seat, c.effect = nil, mounting.Share{}; return c }
func (c contrast) withoutGains() contrast    { c.gains = nil; return c }

// excludesZero reports whether an interval excludes 0.
func excludesZero(ci *[2]float64) bool { return ci[0] > 0 || ci[1] < 0 }

// differences compares every measure of the shoe to with that of from, foot by
// foot, under the same conditions.
func differences(pools []*pool, claimed claims, from, to string) []Difference {
	var out []Difference
	for _, a := range pools {
		if a.label != from {
			continue
		}
		for _, b := range pools {
			if b.label != to || b.foot != a.foot || b.conditions != a.conditions {
				continue
			}
			for _, m := range measure.All() {
				if d, ok := difference(a, b, m, claimed); ok {
					out = append(out, d)
				}
			}
		}
	}
	return out
}

// difference compares one measure of two pools, b − a; ok is false where one of
// them has no value. A declared measure has p-values and a wording, where it can be judged.
func difference(a, b *pool, m measure.Measure, claimed claims) (d Difference, ok bool) {
	from, okA := a.sample(m)
	to, okB := b.sample(m)
	if !okA || !okB {
		return d, false
	}
	c := contrastOf(from, to)
	d = Difference{
		Foot: a.foot, Conditions: a.conditions, Measure: m, From: a.label, To: b.label,
		NFrom: from.n, NTo: to.n, MountingsFrom: len(from.groups), MountingsTo: len(to.groups),
		MeanFrom: from.mean, MeanTo: to.mean, Difference: c.difference,
	}
	d.U, d.DOF, d.CI95 = c.estimate()
	if ci, x, y := d.CI95, from.summary().CI95, to.summary().CI95; m.Describe().Proportion && ci != nil && x != nil && y != nil {
		// Limit the interval to the largest possible difference of the two proportions.
		ci[0], ci[1] = max(ci[0], y[0]-x[1]), min(ci[1], y[1]-x[0])
	}
	if adjusted, tested := claimed.p[claimOf(a, b, m)]; tested {
		d.P, d.PHolm, d.Wording = known(c.pValue()), known(adjusted), c.wording(adjusted)
	}
	return d, true
}

// known returns nil for NaN.
func known(p float64) *float64 {
	if math.IsNaN(p) {
		return nil
	}
	return &p
}
