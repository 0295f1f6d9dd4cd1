package plots

import (
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/device"
)

// group is one shoe under one set of conditions, both feet.
type group struct {
	shoe     int    // place of the shoe in the comparison, which gives it its mark
	code     string // the shoe's
	support  string
	rise     string
	several  bool // the shoe comes under several conditions
	feet     [2]*compare.ShoeFoot
	profiled device.Shoe
}

// groups gathers the feet of each shoe and set of conditions, in the order of the comparison.
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
			return g.code == f.Shoe && g.support == f.Support && g.rise == f.Rise
		})
		if at < 0 {
			at = len(out)
			out = append(out, &group{
				shoe: slices.Index(codes, f.Shoe), code: f.Shoe,
				support: f.Support, rise: f.Rise, profiled: f.Profile,
			})
		}
		out[at].feet[f.Foot] = f
	}
	for _, g := range out {
		for _, h := range out {
			g.several = g.several || g != h && g.code == h.code
		}
	}
	return out
}

func (g *group) conditions() string {
	var parts []string
	for _, s := range []string{g.support, g.rise} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, ", ")
}

// name is the shoe, with its conditions where these tell it from another.
func (g *group) name() string {
	if cond := g.conditions(); g.several && cond != "" {
		return "Shoe " + g.code + ", " + cond
	}
	return "Shoe " + g.code
}

// facts says what the shoe is.
func (g *group) facts() string {
	var parts []string
	if g.profiled.Box != "" {
		parts = append(parts, g.profiled.Box+" box")
	}
	if g.profiled.CrownMM > 0 {
		parts = append(parts, "crown "+Number(g.profiled.CrownMM, 0)+" mm")
	}
	if g.profiled.Shank != "" {
		parts = append(parts, g.profiled.Shank+" shank")
	}
	return strings.Join(parts, ", ")
}

// shoeCodes lists the shoes of a comparison in its order.
func shoeCodes(c *compare.Comparison) []string {
	var codes []string
	for _, f := range c.Shoes {
		if !slices.Contains(codes, f.Shoe) {
			codes = append(codes, f.Shoe)
		}
	}
	return codes
}
