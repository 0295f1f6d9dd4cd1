package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// moreReleves is the number of further relevés in each shoe of one remedy. It is our own
// choice.
const moreReleves = 3

// gainsRemedyBelow is the ratio of the half-widths without and with the uncertainty of
// gains below which calibration is listed as a remedy.
const gainsRemedyBelow = 0.95

// decisiveVariance returns the shares of the variance of the difference that decides the
// answer, nil where no difference has an interval. Where a shoe is preferred it is the
// clearest of the differences that led to it, otherwise the clearest of all.
func (c *Comparison) decisiveVariance(pools []*pool, labels []string, won wins) *VarianceShares {
	var clearest *VarianceShares
	most := -1.0
	for _, other := range labels[1:] {
		if c.Preferred != "" && c.Preferred != labels[0] && c.Preferred != other {
			continue
		}
		for _, f := range device.Feet {
			a, b := matchingPools(pools, f, labels[0], other)
			if a == nil || c.Preferred != "" && !won[f][[2]string{a.label, b.label}] && !won[f][[2]string{b.label, a.label}] {
				continue
			}
			if r, ratio := varianceShares(a, b); r != nil && ratio > most {
				clearest, most = r, ratio
			}
		}
	}
	return clearest
}

// varianceShares divides the variance of the primary difference of two pools;
// ratio is |difference| ÷ half-width of its interval. r is nil where the scatter
// of relevés is not known or the uncertainty is 0.
func varianceShares(a, b *pool) (r *VarianceShares, ratio float64) {
	m := measure.Over
	from, okA := a.sample(m)
	to, okB := b.sample(m)
	if !okA || !okB {
		return nil, 0
	}
	c := contrastOf(from, to)
	u := stats.Combined(c.components()...)
	if !c.scatterKnown || u == 0 {
		return nil, 0
	}
	share := func(parts []stats.Component) float64 { return math.Pow(stats.Combined(parts...)/u, 2) }
	r = &VarianceShares{
		Foot: a.foot, Conditions: a.conditions, Measure: measure.Over, From: a.label, To: b.label,
		HalfWidth: c.halfWidth(), Dancer: share(c.dancer), Mounting: share(c.seat), Effect: c.effect.Variance / (u * u), Day: c.days.Variance / (u * u), Sensor: share(slices.Concat(c.sensor, c.gains)),
	}
	r.MountingEffect = a.effects[m]
	mountings := min(len(from.groups), len(to.groups)) + 1
	r.Remedies = []Remedy{
		{fmt.Sprintf("%d more relevés in each shoe", moreReleves), extendedContrast(from, to, moreReleves, 0).halfWidth()},
		{"mounting the strip " + timesText(mountings) + " under each shoe", extendedContrast(from, to, 0, mountings).halfWidth()},
	}
	if even := c.withoutGains().halfWidth(); even < gainsRemedyBelow*r.HalfWidth {
		r.Remedies = append(r.Remedies, Remedy{"gains of the cells evened out by calibration", even})
	}
	slices.SortStableFunc(r.Remedies, func(a, b Remedy) int { return cmp.Compare(a.HalfWidth, b.HalfWidth) })
	return r, math.Abs(c.difference) / r.HalfWidth
}

// Parts returns the sources of variance, the largest first.
func (r *VarianceShares) Parts() []Part {
	parts := []Part{{"the seats of the strips", r.Mounting}, {"the mounting effect", r.Effect}, {"the dancer", r.Dancer}, {"the sensor", r.Sensor}}
	if r.Day > 0 {
		parts = append(parts, Part{"the days", r.Day})
	}
	slices.SortStableFunc(parts, func(a, b Part) int { return cmp.Compare(b.Share, a.Share) })
	return parts
}
