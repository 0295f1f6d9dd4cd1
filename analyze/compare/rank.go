package compare

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// againstFirst returns the differences of the primary measure from the first
// shoe. The wording is Clear only where the adjusted p-value is at most 0.05.
func againstFirst(ds []Difference) []AgainstFirst {
	var out []AgainstFirst
	families := map[[3]string][]int{}
	for _, d := range ds {
		if d.Measure != measure.Over {
			continue
		}
		key := [3]string{d.Foot.String(), d.Support, d.Rise}
		families[key] = append(families[key], len(out))
		out = append(out, AgainstFirst{Difference: d})
	}
	for _, family := range families {
		p := make([]float64, len(family))
		for i, at := range family {
			p[i] = out[at].pValue()
		}
		for i, adjusted := range stats.Holm(p) {
			a := &out[family[i]]
			if math.IsNaN(adjusted) {
				continue
			}
			a.PShoes = &adjusted
			if a.Wording == Clear && adjusted > 0.05 {
				a.Wording = CouldBeChance
			}
		}
	}
	return out
}

// pValue returns the two-sided p-value of the t-test that corresponds to the 95 %
// interval, NaN without an interval.
func (d Difference) pValue() float64 {
	dof := math.Inf(1)
	switch {
	case d.CI95 == nil:
		return math.NaN()
	case d.DOF != nil:
		dof = *d.DOF
	}
	return stats.TwoSided(d.Difference/d.U, dof)
}

// wins holds, for each foot, the ordered pairs of shoes of which the former beats
// the latter: it is over the box and the other is not, or both miss the kern on
// the same side and it is clearly nearer.
type wins [2]map[[2]string]bool // by device.Foot

// findWins compares every shoe with every other. A difference counts after Holm's
// adjustment over the pairs of shoes that a difference decides on that foot; with
// two shoes there is one pair and no adjustment.
func findWins(pools []*pool, labels []string) (w wins) {
	for _, f := range device.Feet {
		w[f] = map[[2]string]bool{}
		var nearer [][2]string // pairs that a difference decides
		var p []float64
		for _, a := range labels {
			for _, b := range labels {
				pa, pb := matchingPools(pools, f, a, b)
				switch {
				case a == b || pa == nil:
				case pa.overAlone(pb):
					w[f][[2]string{a, b}] = true
				default:
					if m, ok := pa.nearer(pb); ok {
						d, _ := difference(pb, pa, m)
						nearer, p = append(nearer, [2]string{a, b}), append(p, d.pValue())
					}
				}
			}
		}
		for i, adjusted := range stats.Holm(p) {
			w[f][nearer[i]] = adjusted <= 0.05
		}
	}
	return w
}

// better reports whether shoe a beats b on a foot and is beaten by it on none.
func (w wins) better(a, b string) bool {
	return len(w.feet(a, b)) > 0 && len(w.feet(b, a)) == 0
}

// feet returns the feet on which shoe a beats b.
func (w wins) feet(a, b string) (on []device.Foot) {
	for _, f := range device.Feet {
		if w[f][[2]string{a, b}] {
			on = append(on, f)
		}
	}
	return on
}

// rank ranks the shoes: first those that no shoe is better than, then those that
// only these are better than, and so on. Shoes that share a place are undecided,
// not equal.
func (w wins) rank(labels []string) []RankedShoe {
	var out []RankedShoe
	left := slices.Clone(labels)
	for len(left) > 0 {
		var best, rest []string
		for _, l := range left {
			if slices.ContainsFunc(left, func(o string) bool { return w.better(o, l) }) {
				rest = append(rest, l)
			} else {
				best = append(best, l)
			}
		}
		if len(best) == 0 { // a cycle, in which each is beaten by another
			best, rest = left, nil
		}
		place := len(out) + 1
		for _, l := range best {
			s := RankedShoe{Place: place, Shoe: l}
			for _, o := range labels {
				if w.better(l, o) {
					s.Better = append(s.Better, o)
				}
			}
			out = append(out, s)
		}
		left = rest
	}
	return out
}

// overAlone reports whether p is over the box and q is decided not to be.
func (p *pool) overAlone(q *pool) bool {
	vp, _ := p.verdict()
	vq, _ := q.verdict()
	return vp == measure.OverTheBox && vq != measure.OverTheBox && vq != measure.TooCloseToCall
}

// nearer reports whether both miss the kern on the same side and p by less, and
// in which measure.
func (p *pool) nearer(q *pool) (m measure.Measure, ok bool) {
	vp, at := p.verdict()
	vq, qt := q.verdict()
	if vp != vq || vp == measure.OverTheBox || vp == measure.TooCloseToCall {
		return m, false
	}
	axis, m := 1, measure.Over
	if vp == measure.ToTheSide {
		axis, m = 0, measure.Medial
	}
	return m, at[axis]*qt[axis] > 0 && abs(at[axis]) < abs(qt[axis])
}
