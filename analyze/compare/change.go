package compare

import (
	"fmt"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Change puts what differs between two shoes next to what changed in the
// numbers, so that one can see which property may have moved the load. That
// several properties changed at once, it cannot take apart.
type Change struct {
	From       string       `json:"from"`
	To         string       `json:"to"`
	Properties []Property   `json:"properties"`        // that differ
	Unknown    []string     `json:"unknown,omitempty"` // that either shoe leaves open, and that may differ as well
	Moved      []Difference `json:"moved"`             // to − from, of over, medial, contact share and peak
}

// Property is one property in which two shoes differ.
type Property struct {
	Name string `json:"property"`
	From string `json:"from"`
	To   string `json:"to"`
	// By is to − from in the property's unit, in steps of its scale where words
	// stand in order (soft, medium, hard), 0 where there is no order.
	By float64 `json:"by,omitempty"`
}

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

// watched are the measures whose change is put next to a change of shoe.
var changeMeasures = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.PeakPressure}

// changes sets every shoe against the first.
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

func (c *Comparison) profile(label string) *device.Shoe {
	i := slices.IndexFunc(c.Shoes, func(s ShoeFoot) bool { return s.Shoe == label })
	return &c.Shoes[i].Profile
}

// properties reads every property of a shoe as a text, "" where it is not said,
// and as a size.
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

// extent returns the platform's width and depth in mm and how square it is.
func extent(s *device.Shoe) (width, depth, square float64) {
	outline := s.Outline()
	lo, hi := outline.Bounds()
	width, depth = hi[0]-lo[0], hi[1]-lo[1]
	return width, depth, outline.Area() / (width * depth)
}

// length writes a length in mm; 0 is one that nobody measured.
func length(mm float64) (string, float64) {
	if mm == 0 {
		return "", 0
	}
	return fmt.Sprintf("%.1f", mm), mm
}

// onScale places a word among those that stand in order.
func ordinal(word string, scale ...string) (string, float64) {
	return word, float64(slices.Index(scale, word))
}

// differ returns the properties in which two shoes differ as far as they are
// written, and those that either leaves open.
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
