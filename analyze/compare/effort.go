package compare

import (
	"fmt"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Limits of leastEffort: more is not practicable in one visit. Our own choice.
const (
	mostReleves   = 12 // further relevés a shoe
	mostMountings = 8  // mountings a shoe
)

// effortTexts says, for each foot on which the shoes could not be distinguished
// or judged, what further measurements would decide if means and standard
// deviations stay as they are.
func effortTexts(pools []*pool, labels []string, claimed claims) []string {
	var said []string
	for _, f := range device.Feet {
		judged := map[*pool]bool{} // an undecided shoe is said once, not for every pair
		for _, other := range labels[1:] {
			a, b := matchingPools(pools, f, labels[0], other)
			if a == nil {
				continue
			}
			if p := undecided(a, b); p != nil {
				if !judged[p] {
					said = append(said, fmt.Sprintf("To judge %s on the %s foot: %s.", p.name(), p.foot, p.effortToJudge()))
				}
				judged[p] = true
			} else if s := tellApartText(a, b, claimed); s != "" {
				said = append(said, s)
			}
		}
	}
	return said
}

// undecided returns the first of two pools whose verdict is too close to call, nil
// where there is none.
func undecided(a, b *pool) *pool {
	for _, p := range []*pool{a, b} {
		if v, _, _ := p.verdict(); v == measure.TooCloseToCall {
			return p
		}
	}
	return nil
}

// tellApartText says what would distinguish the shoes of two pools, neither of which
// is undecided; "" where they are distinguished already.
func tellApartText(a, b *pool, claimed claims) string {
	va, _, _ := a.verdict()
	vb, _, _ := b.verdict()
	if va == measure.OverTheBox && vb == measure.OverTheBox {
		return fmt.Sprintf("On the %s foot both %s and %s do.", a.foot, a.label, b.label)
	}
	m := measure.Over
	from, _ := a.sample(m)
	to, _ := b.sample(m)
	if claimed.adjusted(a, b, m) <= clearUpTo {
		return ""
	}
	return fmt.Sprintf("To tell %s from %s on the %s foot: %s.", b.label, a.label, a.foot,
		leastEffort(min(len(from.groups), len(to.groups)), a.days != nil, func(releves, mountings int) bool {
			return extendedContrast(from, to, releves, mountings).pValue() <= clearUpTo/float64(claimed.pairs)
		}))
}

// effortToJudge says what would decide the verdict of one shoe.
func (p *pool) effortToJudge() string {
	over := measure.Over
	medial := measure.Medial
	o, _ := p.sample(over)
	m, _ := p.sample(medial)
	return leastEffort(p.mountings, p.days != nil, func(releves, mountings int) bool {
		v, _, _ := p.judge(o.extended(releves, mountings).summary(), m.extended(releves, mountings).summary())
		return v != measure.TooCloseToCall
	})
}

// leastEffort finds the least effort that is enough: further relevés in the
// present mountings, or else further mountings. mounted is the present number of
// mountings; days is set where the relevés are of several visits.
func leastEffort(mounted int, days bool, enough func(releves, mountings int) bool) string {
	for k := 1; k <= mostReleves; k++ {
		if enough(k, 0) {
			releves := "relevés"
			if k == 1 {
				releves = "relevé"
			}
			return fmt.Sprintf("%d more %s a shoe should do", k, releves)
		}
	}
	for m := mounted + 1; m <= mostMountings; m++ {
		if enough(0, m) {
			return fmt.Sprintf("mount the strip %s under each shoe", timesText(m))
		}
	}
	if days {
		return fmt.Sprintf("even %d mountings a shoe would not do, since days differ; compare within one visit", mostMountings)
	}
	return fmt.Sprintf("even %d mountings a shoe would not do; treat them as alike", mostMountings)
}
