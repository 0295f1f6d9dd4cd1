package reliability

import (
	"errors"
	"math"

	"aplomb/analyze/stats"
)

// design contains the values of a foot with their groups at every level.
type design struct {
	values []float64
	groups map[Level][]int
	number map[Level]int // groups of each level
	strip  []int
	// stripCrosses reports that a shoe of a dancer was measured with two strips, so that
	// the effect of strips can be separated from that of dancers and shoes.
	stripCrosses bool
}

// nested are the levels from the outermost to the innermost that has groups.
var nested = []Level{OfDancer, OfShoe, OfDay, OfMounting}

func designOf(shoes []*worn) *design {
	d := &design{groups: map[Level][]int{}, number: map[Level]int{}}
	dancers, strips := map[string]int{}, map[string]int{}
	at := func(of map[string]int, name string) int {
		if _, known := of[name]; !known {
			of[name] = len(of)
		}
		return of[name]
	}
	for s, shoe := range shoes {
		dancer := at(dancers, shoe.dancer)
		own := map[string]bool{}
		for _, v := range shoe.visits {
			for _, m := range v.mountings {
				own[m.strip] = true
				for _, value := range m.values {
					d.values = append(d.values, value)
					for l, group := range []int{dancer, s, d.number[OfDay], d.number[OfMounting]} {
						d.groups[nested[l]] = append(d.groups[nested[l]], group)
					}
					d.strip = append(d.strip, at(strips, m.strip))
				}
				d.number[OfMounting]++
			}
			d.number[OfDay]++
		}
		d.stripCrosses = d.stripCrosses || len(own) > 1
	}
	d.number[OfDancer], d.number[OfShoe] = len(dancers), len(shoes)
	return d
}

// addComponents adds the components of variance. A level is a component where it is
// repeated within the level around it. Otherwise its variance is part of that of the
// level around it or, for the outermost levels, of none.
func (f *Foot) addComponents(shoes []*worn) {
	d := designOf(shoes)
	if len(d.values) == d.number[OfMounting] {
		f.refuse("components of variance", "no mounting has two relevés: nothing says how relevés scatter")
		return
	}
	var e stats.Effects
	var all []Component
	around := 1 // groups of the level around
	for _, l := range nested {
		switch {
		case d.number[l] > around:
			all = append(all, Component{Of: l})
			e.Nested = append(e.Nested, d.groups[l])
		case len(all) > 0:
			last := &all[len(all)-1]
			last.With = append(last.With, l)
			f.refuse(string(l), "no %s has two of them: their variance is in that of the %s", last.Of, last.Of)
		default:
			f.refuse(string(l), "there is only one")
		}
		around = d.number[l]
	}
	if d.stripCrosses {
		e.Crossed = d.strip
		all = append(all, Component{Of: OfStrip})
	} else if f.Strips > 1 {
		f.refuse(string(OfStrip), "no dancer was measured in one shoe with two strips: strips cannot be told from dancers and shoes")
	} else {
		f.refuse(string(OfStrip), "there is only one")
	}
	all = append(all, Component{Of: OfReleve})
	if len(all) == 1 {
		return // one mounting alone
	}
	found, err := stats.FitComponents(d.values, e)
	if errors.Is(err, stats.ErrNoScatter) {
		f.refuse("components of variance", "the relevés of every mounting have the same value")
		return
	}
	sum := 0.0
	for _, c := range found {
		sum += c.Variance
	}
	for i, c := range found {
		all[i].Variance, all[i].SD, all[i].CI95 = c.Variance, math.Sqrt(c.Variance), ends(c.SD95)
		all[i].DOF, all[i].Share = c.DOF, c.Variance/sum
	}
	f.Components = all
}
