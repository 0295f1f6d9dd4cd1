package compare

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// againstFirst returns the differences of the primary measure from the first shoe.
func againstFirst(ds []Difference) []AgainstFirst {
	var out []AgainstFirst
	for _, d := range ds {
		if d.Measure == measure.Over {
			out = append(out, AgainstFirst{d, d.PHolm})
		}
	}
	return out
}

// wins holds, for each foot, the ordered pairs of shoes of which the first beats the
// second: it is over the box and the other is not, or it is nearer and misses the kern
// only in directions in which the other does too. In both cases the difference in
// position is clear.
type wins [2]map[[2]string]bool // by device.Foot

// findWins compares every shoe with every other.
func findWins(pools []*pool, labels []string, claimed claims) (w wins) {
	for _, f := range device.Feet {
		w[f] = map[[2]string]bool{}
		for _, a := range labels {
			for _, b := range labels {
				pa, pb := matchingPools(pools, f, a, b)
				if a == b || pa == nil {
					continue
				}
				if m, ok := pa.nearer(pb); ok {
					w[f][[2]string{a, b}] = claimed.adjusted(pa, pb, m) <= clearUpTo
				}
			}
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

// rank ranks the shoes: first those that no shoe is better than, then those that only the
// former are better than, and so on. Shoes with the same rank are undecided, not equal.
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

// nearer reports whether p is over the box and q is not, or p misses the kern only in
// directions in which q does too and, in the direction of q's verdict, by less. m is the
// measure in which q is further off.
func (p *pool) nearer(q *pool) (m measure.Measure, ok bool) {
	vp, misses, at := p.verdict()
	vq, alsoMissed, qt := q.verdict()
	axis, m := 1, measure.Over
	if vq == measure.ToTheSide {
		axis, m = 0, measure.Medial
	}
	switch {
	case vq == measure.OverTheBox || vq == measure.TooCloseToCall || vp == measure.TooCloseToCall:
		return m, false
	case vp == measure.OverTheBox:
		return m, true
	}
	for _, d := range misses {
		if !slices.Contains(alsoMissed, d) {
			return m, false
		}
	}
	return m, math.Abs(at[axis]) < math.Abs(qt[axis])
}
