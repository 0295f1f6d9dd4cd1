package study

import (
	"fmt"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// properties are the numbers that describe a shoe. A value of 0 means unknown, except for
// the hours.
var properties = []struct {
	name, unit string
	of         func(*device.Shoe) float64
	zero       bool // 0 is a value
}{
	{"platform width", "mm", func(s *device.Shoe) float64 { return s.Size()[0] }, false},
	{"platform depth", "mm", func(s *device.Shoe) float64 { return s.Size()[1] }, false},
	{"platform area", "mm²", func(s *device.Shoe) float64 { return s.Outline().Area() }, false},
	{"crown", "mm", func(s *device.Shoe) float64 { return s.CrownMM }, false},
	{"vamp", "mm", func(s *device.Shoe) float64 { return s.VampMM }, false},
	{"wings", "mm", func(s *device.Shoe) float64 { return s.WingsMM }, false},
	{"hours worn", "h", func(s *device.Shoe) float64 { return s.HoursWorn }, true},
}

// addProperties adds the slope of the primary measure against each property in which the
// shoes differ. An interim comparison has none, because sizes would reveal which shoe is
// which.
func (c *Comparison) addProperties(s *Study, in Input, dancers []string, values map[wearing]float64) {
	if c.Interim {
		return
	}
	for _, p := range properties {
		at := map[string]float64{}
		var all []float64
		for i := range in.Shoes {
			shoe := &in.Shoes[i]
			if v := p.of(shoe); v != 0 || p.zero {
				at[shoe.Code] = v
				all = append(all, v)
			}
		}
		if len(all) < 2 || slices.Min(all) == slices.Max(all) {
			why := "all shoes have the same"
			if len(all) < 2 {
				why = fmt.Sprintf("known of %d of %d shoes", len(all), len(in.Shoes))
			}
			c.LeftOut = append(c.LeftOut, measure.Refusal{Of: p.name, Why: why})
			continue
		}
		one := Property{Of: p.name, Unit: p.unit, Shoes: len(all), Least: slices.Min(all), Most: slices.Max(all)}
		var slopes []float64
		for _, d := range dancers {
			var x, y []float64
			for _, shoe := range s.Shoes {
				v, ok := values[wearing{d, shoe.Code}]
				if width, known := at[shoe.Code]; ok && known {
					x, y = append(x, width), append(y, v)
				}
			}
			if len(x) < len(all) {
				continue
			}
			if line := stats.FitLine(x, y); finite(line.Slope) != nil {
				slopes = append(slopes, line.Slope)
			}
		}
		one.Shift = shiftOf(slopes)
		c.Properties = append(c.Properties, one)
	}
}
