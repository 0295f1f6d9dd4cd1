package compare

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// mountingsToPermute is the least number of mountings of each shoe for a
// permutation test.
const mountingsToPermute = 4

// contrast is the difference of two means with the components of its uncertainty.
type contrast struct {
	difference       float64
	dancer, mounting []stats.Component // scatter of relevés; remounting of the strips
	sensor, gains    []stats.Component // of the sensor without the gains of its cells, and of these gains
	scatterKnown     bool              // the standard deviation of relevés is known
}

// contrastOf returns the difference of two samples of one foot: u² = s_A²/n_A +
// s_B²/n_B + seat²·(1/m_A + 1/m_B) + u_sensor² with n relevés in m mountings
// (JCGM 100:2008, 5.1.2). The standard deviation of a mounting is one estimate
// with one number of degrees of freedom for both shoes.
func contrastOf(from, to sample) contrast {
	ma, mb := from.mounting(), to.mounting()
	sensor, gains := to.sensor.differenceFrom(from.sensor)
	return contrast{
		difference:   to.mean - from.mean,
		dancer:       []stats.Component{from.dancer(), to.dancer()},
		mounting:     []stats.Component{{U: math.Hypot(ma.U, mb.U), DOF: min(ma.DOF, mb.DOF)}},
		sensor:       sensor,
		gains:        gains,
		scatterKnown: from.scatterDOF > 0 && to.scatterDOF > 0,
	}
}

// components returns all components.
func (c contrast) components() []stats.Component {
	return slices.Concat(c.dancer, c.sensor, c.gains, c.mounting)
}

// halfWidth returns the half-width of the 95 % interval.
func (c contrast) halfWidth() float64 {
	return stats.Interval95(0, stats.Combined(c.components()...), stats.EffectiveDOF(c.components()...)).Hi
}

// judge returns the standard uncertainty, its degrees of freedom (nil where
// unlimited), the 95 % interval and the wording. The wording depends on the
// interval and never on a p-value.
func (c contrast) judge() (u float64, dof *float64, ci *[2]float64, wording Wording) {
	u = stats.Combined(c.components()...)
	if !c.scatterKnown {
		return u, nil, nil, CouldBeChance
	}
	nu := stats.EffectiveDOF(c.components()...)
	ci = interval(c.difference, u, nu)
	switch {
	case excludesZero(ci):
		wording = Clear
	case math.Abs(c.difference) > c.withoutMounting().halfWidth():
		wording = WithinMounting
	default:
		wording = CouldBeChance
	}
	return u, finiteDOF(nu), ci, wording
}

// withoutMounting and withoutGains return the contrast without the uncertainty of
// remounting and without that of the gains of cells.
func (c contrast) withoutMounting() contrast { c.mounting = nil; return c }
func (c contrast) withoutGains() contrast    { c.gains = nil; return c }

// excludesZero reports whether an interval excludes 0.
func excludesZero(ci *[2]float64) bool { return ci[0] > 0 || ci[1] < 0 }

// differences compares every measure of the shoe to with that of from, foot by
// foot, under the same support and rise.
func differences(pools []*pool, from, to string) []Difference {
	var out []Difference
	for _, a := range pools {
		if a.label != from {
			continue
		}
		for _, b := range pools {
			if b.label != to || b.foot != a.foot || b.support != a.support || b.rise != a.rise {
				continue
			}
			for _, m := range measure.All() {
				if d, ok := difference(a, b, m); ok {
					out = append(out, d)
				}
			}
		}
	}
	adjust(out)
	return out
}

// difference compares one measure of two pools, b − a; ok is false where one of
// them has no value.
func difference(a, b *pool, m measure.Measure) (d Difference, ok bool) {
	from, okA := a.sample(m)
	to, okB := b.sample(m)
	if !okA || !okB {
		return d, false
	}
	c := contrastOf(from, to)
	d = Difference{
		Foot: a.foot, Support: a.support, Rise: a.rise, Measure: m, From: a.label, To: b.label,
		NFrom: from.n, NTo: to.n, MountingsFrom: len(from.groups), MountingsTo: len(to.groups),
		MeanFrom: from.mean, MeanTo: to.mean, Difference: c.difference,
	}
	d.U, d.DOF, d.CI95, d.Wording = c.judge()
	if len(from.groups) >= mountingsToPermute && len(to.groups) >= mountingsToPermute {
		p := stats.PermuteGroups(means(from.groups), means(to.groups))
		d.P = &p
	}
	return d, true
}

// adjust sets PHolm over the measures and feet of one pair of shoes, except the
// primary measure.
func adjust(ds []Difference) {
	var p []float64
	var at []int
	for i, d := range ds {
		if d.P != nil && d.Measure != measure.Over {
			p, at = append(p, *d.P), append(at, i)
		}
	}
	for j, adjusted := range stats.Holm(p) {
		ds[at[j]].PHolm = &adjusted
	}
}
