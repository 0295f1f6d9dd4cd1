package plots

import (
	"image/color"

	"gonum.org/v1/plot/vg"
)

// Look is how pictures look: inks and sizes.
type Look struct {
	Paper color.NRGBA
	Ink   color.NRGBA // lines and text that matter
	Quiet color.NRGBA // text that explains; still readable by WCAG AA on Paper
	Hair  color.NRGBA // rules and ticks
	Kern  color.NRGBA // the target's edge
	Zone  color.NRGBA // the target's area
	Dense color.NRGBA // the largest pressure; none is Paper
	Tint  color.NRGBA // a hold
	Faint color.NRGBA // a rise and a lower

	Small, Text, Strong vg.Length // type sizes
	Shoes               []Mark    // one for each shoe, by its place in the comparison
}

// Mark is how the relevés of one shoe are drawn: shape and ink together.
type Mark struct {
	Shape Shape
	Ink   color.NRGBA
}

// Shape is the form of a mark.
type Shape int

const (
	Disc Shape = iota
	Diamond
	Square
	Triangle
	Cross
	Bar
)

// DefaultLook is graphite on white with one blue, kept for the target. The
// inks of the shoes differ in lightness as well as in hue, none is a red
// beside a green, and each has its own shape.
func DefaultLook() Look {
	return Look{
		Paper: ink(0xFFFFFF),
		Ink:   ink(0x1C2530),
		Quiet: ink(0x545D6A),
		Hair:  ink(0xC3C9D1),
		Kern:  ink(0x1560A8),
		Zone:  ink(0xD9E7F5),
		Dense: ink(0x8B9199),
		Tint:  ink(0xE4E8EC),
		Faint: ink(0xF3F5F7),

		Small:  9,
		Text:   9.5,
		Strong: 11.5,
		Shoes: []Mark{
			{Disc, ink(0xC05A00)},
			{Diamond, ink(0x40235C)},
			{Square, ink(0x008074)},
			{Triangle, ink(0x8A1F4F)},
			{Cross, ink(0x7A6A00)},
			{Bar, ink(0x2B2B2B)},
		},
	}
}

// mark returns the mark of the i-th shoe.
func (l *Look) mark(i int) Mark { return l.Shoes[i%len(l.Shoes)] }

// pressure returns the grey of a pressure that is share of the largest, 0..1.
func (l *Look) pressure(share float64) color.NRGBA {
	return mix(l.Paper, l.Dense, min(1, max(0, share)))
}

func ink(rgb uint32) color.NRGBA {
	return color.NRGBA{uint8(rgb >> 16), uint8(rgb >> 8), uint8(rgb), 0xFF}
}

// mix returns a with share of b in it, 0..1. Inks are mixed beforehand, since
// not every canvas draws one through another.
func mix(a, b color.NRGBA, share float64) color.NRGBA {
	m := func(a, b uint8) uint8 { return uint8(float64(a) + share*(float64(b)-float64(a)) + 0.5) }
	return color.NRGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 0xFF}
}
