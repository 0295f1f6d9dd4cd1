package compare

import (
	"fmt"
	"slices"

	"aplomb/analyze/measure"
)

// Limits of leastEffort: more is not practicable in one visit. They are our own choice.
const (
	mostReleves   = 12 // further relevés a shoe
	mostMountings = 8  // mountings a shoe
)

// Effort is the number of further relevés in the present mountings, or of mountings in
// all, that would decide something if means and standard deviations stay the same.
type Effort struct {
	Releves   int
	Mountings int  // in all; 0 where relevés are enough
	Mounted   int  // the present number; 0 where the shoes differ in it
	Hopeless  bool // no practicable number is enough
	Days      bool // Hopeless, and the relevés are of several visits, which differ
}

// leastEffort returns the smallest effort that is enough for the shoes of some pools.
func leastEffort(enough func(releves, mountings int) bool, of ...*pool) Effort {
	var mounted []int
	for _, p := range of {
		mounted = append(mounted, p.mountings)
	}
	for k := 1; k <= mostReleves; k++ {
		if enough(k, 0) {
			return Effort{Releves: k}
		}
	}
	least, most := slices.Min(mounted), slices.Max(mounted)
	for m := least + 1; m <= mostMountings; m++ {
		if enough(0, m) {
			if least != most {
				least = 0
			}
			return Effort{Mountings: m, Mounted: least}
		}
	}
	return Effort{Hopeless: true, Days: of[0].days != nil}
}

// larger returns the larger of two efforts that serve different aims.
func (e Effort) larger(o Effort) Effort {
	switch {
	case e.Hopeless:
		return e
	case o.Hopeless:
		return o
	case e.Mountings != o.Mountings:
		if e.Mountings > o.Mountings {
			return e
		}
		return o
	case e.Mounted != o.Mounted:
		return Effort{Mountings: e.Mountings}
	case e.Releves > o.Releves:
		return e
	}
	return o
}

// text returns what to measure, such as "one more mounting of each". each is "" for one
// shoe.
func (e Effort) text(each string) string {
	switch more := e.Mountings - e.Mounted; {
	case e.Hopeless:
		return fmt.Sprintf("even %d mountings%s", mostMountings, each)
	case e.Mountings == 0 && e.Releves == 1:
		return "one more relevé" + each
	case e.Mountings == 0:
		return fmt.Sprintf("%d more relevés%s", e.Releves, each)
	case e.Mounted == 0:
		return fmt.Sprintf("%d mountings%s in all", e.Mountings, each)
	case more == 1:
		return "one more mounting" + each
	default:
		return fmt.Sprintf("%d more mountings%s", more, each)
	}
}

// since returns the reason why no number of mountings is enough, "" where that is not
// known.
func (e Effort) since() string {
	if e.Days {
		return ", since days differ (compare within one visit)"
	}
	return ""
}

// effortForVerdict returns the effort that would decide the verdict of one shoe.
func (p *pool) effortForVerdict() Effort {
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

// effortForDifference returns the effort that would make the difference of a measure of two
// pools clear, and decide their verdicts. Two shoes over the box need no difference.
func (c claims) effortForDifference(a, b *pool, m measure.Measure) Effort {
	from, _ := a.sample(m)
	to, _ := b.sample(m)
	one, other := a.judgedWith(), b.judgedWith()
	limit := clearUpTo / float64(c.familySize(m))
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
