package plots

import (
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// group is both feet of one shoe under one set of conditions.
type group struct {
	shoe       int    // position of the shoe in the comparison, from 0; it determines the mark
	code       string // of the shoe
	conditions measure.Conditions
	others     []measure.Conditions // of the other groups of the shoe
	feet       [2]*compare.ShoeFoot
	profile    device.Shoe
}

// groups returns the groups of a comparison, in its order.
func groups(c *compare.Comparison) []*group {
	var out []*group
	var codes []string
	for i := range c.Shoes {
		f := &c.Shoes[i]
		if f.Foot != device.Left && f.Foot != device.Right {
			continue
		}
		if !slices.Contains(codes, f.Shoe) {
			codes = append(codes, f.Shoe)
		}
		at := slices.IndexFunc(out, func(g *group) bool {
			return g.code == f.Shoe && g.conditions == f.Conditions
		})
		if at < 0 {
			at = len(out)
			out = append(out, &group{
				shoe: slices.Index(codes, f.Shoe), code: f.Shoe,
				conditions: f.Conditions, profile: f.Profile,
			})
		}
		out[at].feet[f.Foot] = f
	}
	for _, g := range out {
		for _, h := range out {
			if g != h && g.code == h.code {
				g.others = append(g.others, h.conditions)
			}
		}
	}
	return out
}

// name returns the shoe's code, with the conditions where the comparison has the
// shoe under several.
func (g *group) name() string {
	if g.others == nil {
		return g.code
	}
	return strings.Join(nonEmpty(g.code, g.conditions.Support, g.conditions.Rise, compare.ApartOtherwise(g.conditions, g.others)), ", ")
}

// title returns name as a heading.
func (g *group) title() string { return "Shoe " + g.name() }

// facts describes the shoe: box, crown and shank.
func (g *group) facts() string {
	var parts []string
	if g.profile.Box != "" {
		parts = append(parts, g.profile.Box+" box")
	}
	if g.profile.CrownMM > 0 {
		parts = append(parts, "crown "+words.Trimmed(g.profile.CrownMM, 1)+" mm")
	}
	if g.profile.Shank != "" {
		parts = append(parts, g.profile.Shank+" shank")
	}
	return strings.Join(parts, ", ")
}

// shoeCodes returns the codes of the shoes of a comparison, in its order.
func shoeCodes(c *compare.Comparison) []string {
	var codes []string
	for _, f := range c.Shoes {
		if !slices.Contains(codes, f.Shoe) {
			codes = append(codes, f.Shoe)
		}
	}
	return codes
}
