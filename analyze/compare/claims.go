package compare

import (
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/scale"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// clearUpTo is the largest adjusted p-value of a difference that is called clear.
const clearUpTo = 0.05

// claims holds the p-values of the declared differences between shoes that can be judged,
// adjusted by Holm's method over the comparison: the primary measure over feet and pairs
// of shoes, the other measures over measures, feet and pairs.
type claims struct {
	p               map[claim]float64
	primary, others int // numbers of p-values that were adjusted jointly
}

// familySize returns the number of p-values that were adjusted jointly with those of a
// measure.
func (c claims) familySize(m measure.Measure) int {
	if m == measure.Over {
		return c.primary
	}
	return c.others
}

// claim identifies the difference of one measure between two shoes, in either
// direction.
type claim struct {
	foot       device.Foot
	conditions measure.Conditions
	measure    measure.Measure
	one, other string // labels, the smaller first
}

// claimOf returns the claim about a measure of two pools. Load share is the same number
// for both feet, so it is one claim.
func claimOf(a, b *pool, m measure.Measure) claim {
	c := claim{a.foot, a.conditions, m, min(a.label, b.label), max(a.label, b.label)}
	if m == measure.LoadShare {
		c.foot = device.Left
	}
	return c
}

// claimsOf returns the claims of a comparison; moved reports, by foot, whether the scale
// of a strip changed.
func claimsOf(pools []*pool, moved [2]bool) claims {
	var primary, others family[claim]
	for i, a := range pools {
		for _, b := range pools[:i] {
			if !a.comparable(b) {
				continue
			}
			for _, m := range measure.All() {
				from, okA := a.sample(m)
				to, okB := b.sample(m)
				if m.Describe().Kind != measure.Declared || !okA || !okB || !onOneScale(pools, a, b, m, moved) {
					continue
				}
				p := contrastOf(from, to).pValue()
				if m == measure.Over {
					primary.add(claimOf(a, b, m), p)
				} else {
					others.add(claimOf(a, b, m), p)
				}
			}
		}
	}
	all := claims{map[claim]float64{}, len(primary.p), len(others.p)}
	for _, f := range []family[claim]{primary, others} {
		for c, adjusted := range f.adjusted() {
			all.p[c] = adjusted
		}
	}
	return all
}

// onOneScale reports whether a measure of two pools was read on one scale, where it
// depends on the scale: that of the strip of their foot, and for load share those of both
// feet.
func onOneScale(pools []*pool, a, b *pool, m measure.Measure, moved [2]bool) bool {
	for _, f := range device.Feet {
		x, y := matchingPools(pools, f, a.label, b.label)
		if x == nil || f != a.foot && m != measure.LoadShare {
			continue
		}
		if scale.Read(m) && moved[f] || !scale.Judged(m, x.contents, y.contents) {
			return false
		}
	}
	return true
}

// adjusted returns the adjusted p-value of the difference of a measure of two pools,
// NaN where it has none.
func (c claims) adjusted(a, b *pool, m measure.Measure) float64 {
	if p, ok := c.p[claimOf(a, b, m)]; ok {
		return p
	}
	return math.NaN()
}

// family is a set of hypotheses that are tested jointly, each with its p-value.
type family[K comparable] struct {
	key []K
	p   []float64
}

// add adds a hypothesis, once.
func (f *family[K]) add(key K, p float64) {
	for _, k := range f.key {
		if k == key {
			return
		}
	}
	f.key, f.p = append(f.key, key), append(f.p, p)
}

// adjusted returns the p-value of every hypothesis, adjusted by Holm.
func (f *family[K]) adjusted() map[K]float64 {
	all := map[K]float64{}
	for i, p := range stats.Holm(f.p) {
		all[f.key[i]] = p
	}
	return all
}
