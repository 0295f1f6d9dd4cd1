package compare

import (
	"math"
	"slices"

	"aplomb/analyze"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// Standing is a shoe's place among those tried.
type Standing struct {
	Place  int      `json:"place"` // from 1; shoes that share a place are not told apart
	Shoe   string   `json:"shoe"`
	Better []string `json:"better,omitempty"` // shoes that this one is better than
}

// Against sets the declared measure of one shoe against the first, adjusted for
// how many shoes were tried.
type Against struct {
	Difference
	// PShoes is the p-value that belongs to the interval (a t-test with its
	// uncertainty and degrees of freedom), adjusted by Holm over the shoes tried
	// on this foot under the same conditions; absent where there is no interval.
	PShoes *float64 `json:"p_shoes,omitempty"`
}

// against takes the declared measure's differences from the first shoe. Clear
// stands only where it still holds among so many shoes.
func against(ds []Difference) []Against {
	var out []Against
	families := map[[3]string][]int{}
	for _, d := range ds {
		if d.Measure != declared {
			continue
		}
		key := [3]string{d.Foot.String(), d.Support, d.Rise}
		families[key] = append(families[key], len(out))
		out = append(out, Against{Difference: d})
	}
	for _, family := range families {
		p := make([]float64, len(family))
		for i, at := range family {
			p[i] = out[at].byInterval()
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
func (d Difference) byInterval() float64 {
	dof := math.Inf(1)
	switch {
	case d.CI95 == nil:
		return math.NaN()
	case d.DOF != nil:
		dof = *d.DOF
	}
	return stats.TwoSided(d.Difference/d.U, dof)
}

// rank places the shoes: first those that none is better than, then those that
// only these are better than, and so on. One shoe is better than another if it
// wins on a foot and loses on none; differences count as clear after Holm's
// adjustment over the pairs of shoes on that foot. Shoes of which neither is
// better may share a place: that is no draw, but not knowing.
func rank(pools []*pool, labels []string) []Standing {
	better := betterThan(pools, labels)
	var out []Standing
	left := slices.Clone(labels)
	for len(left) > 0 {
		var best, rest []string
		for _, l := range left {
			if slices.ContainsFunc(left, func(o string) bool { return better[[2]string{o, l}] }) {
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
			s := Standing{Place: place, Shoe: l}
			for _, o := range labels {
				if better[[2]string{l, o}] {
					s.Better = append(s.Better, o)
				}
			}
			out = append(out, s)
		}
		left = rest
	}
	return out
}

// betterThan holds for every ordered pair of shoes whether the former is better.
func betterThan(pools []*pool, labels []string) map[[2]string]bool {
	wins := map[[2]string]bool{}
	for _, f := range device.Feet {
		var nearer [][2]string // pairs that a difference decides
		var p []float64
		for _, a := range labels {
			for _, b := range labels {
				pa, pb := alike(pools, f, a, b)
				switch {
				case a == b || pa == nil:
				case pa.overAlone(pb):
					wins[[2]string{a, b}] = true
				default:
					if m, ok := pa.nearer(pb); ok {
						d, _ := difference(pb, pa, m)
						nearer, p = append(nearer, [2]string{a, b}), append(p, d.byInterval())
					}
				}
			}
		}
		for i, adjusted := range stats.Holm(p) {
			wins[nearer[i]] = wins[nearer[i]] || adjusted <= 0.05
		}
	}
	better := map[[2]string]bool{}
	for pair, won := range wins {
		better[pair] = won && !wins[[2]string{pair[1], pair[0]}]
	}
	return better
}

// overAlone says whether p is over the box and q surely is not.
func (p *pool) overAlone(q *pool) bool {
	vp, _ := p.verdict()
	vq, _ := q.verdict()
	return vp == analyze.Over && vq != analyze.Over && vq != analyze.TooCloseToCall
}

// nearer says whether both miss on the same side, p less far, and by which measure.
func (p *pool) nearer(q *pool) (m analyze.Measure, ok bool) {
	vp, at := p.verdict()
	vq, qt := q.verdict()
	if vp != vq || vp == analyze.Over || vp == analyze.TooCloseToCall {
		return m, false
	}
	axis, measure := 1, declared
	if vp == analyze.ToTheSide {
		axis, measure = 0, "medial_mm"
	}
	m, _ = analyze.MeasureNamed(measure)
	return m, at[axis]*qt[axis] > 0 && abs(at[axis]) < abs(qt[axis])
}
