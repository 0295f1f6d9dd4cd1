package compare

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// Standing is a shoe's place among those tried.
type RankedShoe struct {
	Place  int      `json:"place"` // from 1; shoes that share a place are not told apart
	Shoe   string   `json:"shoe"`
	Better []string `json:"better,omitempty"` // shoes that this one is better than
}

// Against sets the primary measure of one shoe against the first, adjusted for
// how many shoes were tried.
type AgainstFirst struct {
	Difference
	// PShoes is the p-value that belongs to the interval (a t-test with its
	// uncertainty and degrees of freedom), adjusted by Holm over the shoes tried
	// on this foot under the same conditions; absent where there is no interval.
	PShoes *float64 `json:"p_shoes,omitempty"`
}

// against takes the primary measure's differences from the first shoe. Clear
// stands only where it still holds among so many shoes.
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

// byInterval is the two-sided p-value of the test that the 95 % interval
// belongs to, NaN where there is no interval.
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

// wins holds for each foot the ordered pairs of shoes of which the former beats
// the latter there: it is over the box and the other is not, or both miss on the
// same side and it is clearly nearer.
type wins [2]map[[2]string]bool // by device.Foot

// winsOf sets every shoe against every other. Differences count as clear after
// Holm's adjustment over the pairs of shoes that one decides on that foot; with
// two shoes there is one pair, and nothing to adjust.
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

// better says whether shoe a beats b on a foot and loses to it on none.
func (w wins) better(a, b string) bool {
	return len(w.feet(a, b)) > 0 && len(w.feet(b, a)) == 0
}

// feet returns those on which shoe a beats b.
func (w wins) feet(a, b string) (on []device.Foot) {
	for _, f := range device.Feet {
		if w[f][[2]string{a, b}] {
			on = append(on, f)
		}
	}
	return on
}

// rank places the shoes: first those that none is better than, then those that
// only these are better than, and so on. Shoes of which neither is better may
// share a place: that is no draw, but not knowing.
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
		if len(best) == 0 { // each of them beaten by another, in a ring
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

// overAlone says whether p is over the box and q surely is not.
func (p *pool) overAlone(q *pool) bool {
	vp, _ := p.verdict()
	vq, _ := q.verdict()
	return vp == measure.OverTheBox && vq != measure.OverTheBox && vq != measure.TooCloseToCall
}

// nearer says whether both miss on the same side, p less far, and by which measure.
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
