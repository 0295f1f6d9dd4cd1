package compare

import (
	"fmt"
	"slices"

	"aplomb/analyze/measure"
)

// Limits of leastEffort: more is not practicable in one visit. Our own choice.
const (
	mostReleves   = 12 // further relevés a shoe
	mostMountings = 8  // mountings a shoe
)

// effort is how many further relevés in the present mountings, or how many mountings in
// all, would decide something if means and standard deviations stay as they are.
type effort struct {
	releves   int
	mountings int // in all; 0 where relevés are enough
	mounted   int // the present number; 0 where the shoes differ in it
	hopeless  bool
	days      bool // hopeless, and the relevés are of several visits, which differ
}

// leastEffort finds the least effort that is enough for the shoes of some pools.
func leastEffort(enough func(releves, mountings int) bool, of ...*pool) effort {
	var mounted []int
	for _, p := range of {
		mounted = append(mounted, p.mountings)
	}
	for k := 1; k <= mostReleves; k++ {
		if enough(k, 0) {
			return effort{releves: k}
		}
	}
	least, most := slices.Min(mounted), slices.Max(mounted)
	for m := least + 1; m <= mostMountings; m++ {
		if enough(0, m) {
			if least != most {
				least = 0
			}
			return effort{mountings: m, mounted: least}
		}
	}
	return effort{hopeless: true, days: of[0].days != nil}
}

// larger returns the larger of two efforts, each of which is enough for something else.
func (e effort) larger(o effort) effort {
	switch {
	case e.hopeless:
		return e
	case o.hopeless:
		return o
	case e.mountings != o.mountings:
		if e.mountings > o.mountings {
			return e
		}
		return o
	case e.mounted != o.mounted:
		return effort{mountings: e.mountings}
	case e.releves > o.releves:
		return e
	}
	return o
}

// text says what to measure, such as one more mounting of each. each is "" for one shoe.
func (e effort) text(each string) string {
	switch more := e.mountings - e.mounted; {
	case e.hopeless:
		return fmt.Sprintf("even %d mountings%s", mostMountings, each)
	case e.mountings == 0 && e.releves == 1:
		return "one more relevé" + each
	case e.mountings == 0:
		return fmt.Sprintf("%d more relevés%s", e.releves, each)
	case e.mounted == 0:
		return fmt.Sprintf("%d mountings%s in all", e.mountings, each)
	case more == 1:
		return "one more mounting" + each
	default:
		return fmt.Sprintf("%d more mountings%s", more, each)
	}
}

// since says why no number of mountings is enough, "" where that is not known.
func (e effort) since() string {
	if e.days {
		return ", since days differ (compare within one visit)"
	}
	return ""
}

// effortToJudge returns what would decide the verdict of one shoe.
func (p *pool) effortToJudge() effort {
	judged := p.judgedWith()
	return leastEffort(func(releves, mountings int) bool { return judged(releves, mountings) != measure.TooCloseToCall }, p)
}

// judgedWith returns a function that returns the verdict with further relevés or mountings.
func (p *pool) judgedWith() func(releves, mountings int) measure.Verdict {
	over, _ := p.sample(measure.Over)
	medial, _ := p.sample(measure.Medial)
	return func(releves, mountings int) measure.Verdict {
		v, _, _ := p.judge(over.extended(releves, mountings).summary(), medial.extended(releves, mountings).summary())
		return v
	}
}

// effortToTell returns what would make the difference of a measure of two pools clear,
// and their verdicts with it; two shoes over the box need no difference.
func (c claims) effortToTell(a, b *pool, m measure.Measure) effort {
	from, _ := a.sample(m)
	to, _ := b.sample(m)
	one, other := a.judgedWith(), b.judgedWith()
	limit := clearUpTo / float64(c.together(m))
	return leastEffort(func(releves, mountings int) bool {
		clear := extendedContrast(from, to, releves, mountings).pValue() <= limit
		v := one(releves, mountings)
		if v == measure.TooCloseToCall || v != measure.OverTheBox && !clear {
			return false
		}
		w := other(releves, mountings)
		return w == measure.OverTheBox && v == w || w != measure.TooCloseToCall && clear
	}, a, b)
}
