package secondscreen

import (
	"slices"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// ShoesOf returns the shoes of a comparison, in its order. Of a foot that wore a shoe under
// several conditions it takes the first.
func ShoesOf(c *compare.Comparison) (shoes []Shoe) {
	for _, one := range c.Shoes {
		i := slices.IndexFunc(shoes, func(s Shoe) bool { return s.Code == one.Shoe })
		if i < 0 {
			i = len(shoes)
			shoes = append(shoes, Shoe{Code: one.Shoe})
		}
		if shoes[i].Feet[one.Foot] == nil {
			shoes[i].Feet[one.Foot] = &Standing{
				Outline: one.Platform.Outline, Kern: one.Platform.Kern,
				At:      platform.Point{one.Measures[measure.Medial].Mean, one.Measures[measure.Over].Mean},
				Verdict: one.Verdict, Misses: one.Misses, Releves: one.N,
			}
		}
	}
	return shoes
}
