package compare

import (
	"fmt"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Names of properties, as in Property.
const (
	PlatformWidth = "platform_width_mm"
	PlatformDepth = "platform_depth_mm"
	Squareness    = "squareness" // area ÷ (width × depth): π/4 for an oval, 1 for a rectangle
	Box           = "box"
	Crown         = "crown_mm"
	Shank         = "shank"
	ShankLength   = "shank_length"
	Vamp          = "vamp_mm"
	Wings         = "wings_mm"
	Padding       = "padding"
	HoursWorn     = "hours_worn"
)

// changeMeasures are the measures listed in Change.Moved.
var changeMeasures = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.PeakPressure}

// changes compares every shoe with the first.
func (c *Comparison) changes(labels []string) []Change {
	var out []Change
	for _, to := range labels[1:] {
		one := Change{From: labels[0], To: to, Moved: []Difference{}}
		one.Properties, one.Unknown = propertyDifferences(c.profile(labels[0]), c.profile(to))
		for _, d := range c.Differences {
			if d.To == to && slices.Contains(changeMeasures, d.Measure) {
				one.Moved = append(one.Moved, d)
			}
		}
		out = append(out, one)
	}
	return out
}

// profile returns the description of a shoe by its label.
func (c *Comparison) profile(label string) *device.Shoe {
	i := slices.IndexFunc(c.Shoes, func(s ShoeFoot) bool { return s.Shoe == label })
	return &c.Shoes[i].Profile
}

// properties returns every property of a shoe as a text, "" where it is not
// stated, and as a number.
var properties = []struct {
	name string
	of   func(*device.Shoe) (text string, size float64)
}{
	{PlatformWidth, func(s *device.Shoe) (string, float64) { w, _, _ := extent(s); return length(w) }},
	{PlatformDepth, func(s *device.Shoe) (string, float64) { _, d, _ := extent(s); return length(d) }},
	{Squareness, func(s *device.Shoe) (string, float64) {
		_, _, square := extent(s)
		return fmt.Sprintf("%.2f", square), square
	}},
	{Box, func(s *device.Shoe) (string, float64) {
		return ordinal(s.Box, "tapered", "moderately tapered", "square")
	}},
	{Crown, func(s *device.Shoe) (string, float64) { return length(s.CrownMM) }},
	{Shank, func(s *device.Shoe) (string, float64) { return ordinal(s.Shank, "soft", "medium", "hard") }},
	{ShankLength, func(s *device.Shoe) (string, float64) { return ordinal(s.ShankLength, "three-quarter", "full") }},
	{Vamp, func(s *device.Shoe) (string, float64) { return length(s.VampMM) }},
	{Wings, func(s *device.Shoe) (string, float64) { return length(s.WingsMM) }},
	{Padding, func(s *device.Shoe) (string, float64) { return s.Padding, 0 }},
	{HoursWorn, func(s *device.Shoe) (string, float64) { return fmt.Sprintf("%g", s.HoursWorn), s.HoursWorn }},
}

// extent returns the platform's width and depth, mm, and its squareness.
func extent(s *device.Shoe) (width, depth, square float64) {
	outline := s.Outline()
	lo, hi := outline.Bounds()
	width, depth = hi[0]-lo[0], hi[1]-lo[1]
	return width, depth, outline.Area() / (width * depth)
}

// length formats a length in mm, and returns it as a number; 0 means that it was not
// measured.
func length(mm float64) (string, float64) {
	if mm == 0 {
		return "", 0
	}
	return fmt.Sprintf("%.1f", mm), mm
}

// ordinal returns a word and its position on an ordinal scale, -1 for another
// word.
func ordinal(word string, scale ...string) (string, float64) {
	return word, float64(slices.Index(scale, word))
}

// propertyDifferences returns the properties in which two shoes differ, and those
// that are not stated for one of them.
func propertyDifferences(from, to *device.Shoe) (different []Property, unknown []string) {
	different = []Property{}
	for _, p := range properties {
		a, sizeA := p.of(from)
		b, sizeB := p.of(to)
		switch {
		case a == "" || b == "":
			unknown = append(unknown, p.name)
		case a != b:
			different = append(different, Property{Name: p.name, From: a, To: b, By: sizeB - sizeA})
		}
	}
	return different, unknown
}
