package plots

import (
	"image/color"

	"gonum.org/v1/plot/vg"
)

// Theme is the colours and type sizes of a picture.
type Theme struct {
	Paper       color.NRGBA // the background
	Ink         color.NRGBA // data, outlines and most text
	Quiet       color.NRGBA // axes and explanatory text; readable on Paper at level AA of WCAG 2.2
	Hairline    color.NRGBA // separating lines
	Kern        color.NRGBA // the edge of the kern
	KernFill    color.NRGBA // the area of the kern
	MaxPressure color.NRGBA // the largest pressure; no pressure is Paper. Lines over pressure have a border of Paper
	Tint        color.NRGBA // the area of a hold, and other bands
	Faint       color.NRGBA // the area of a rise and of a lower

	Small, Text, Strong vg.Length // type sizes, points
	Shoes               []Mark    // by position of the shoe in the comparison; hollow, and then again, when there are more shoes
}

// Mark is the symbol for the relevés of one shoe. Shape and colour each identify the
// shoe.
type Mark struct {
	Shape Shape
	Ink   color.NRGBA
}

// Shape is the shape of a mark.
type Shape int

const (
	Disc Shape = iota
	Diamond
	Square
	Triangle
	Cross
	Wedge  // a triangle on its point
	hollow // flag: only the outline of the shape, for further shoes
)

// DefaultTheme returns dark grey on white, with blue for the kern and for nothing
// else. The colours of the shoes differ in lightness as well as in hue, and no two
// of them are a red and a green.
func DefaultTheme() Theme {
	return Theme{
		Paper:       rgb(0xFFFFFF),
		Ink:         rgb(0x1C2530),
		Quiet:       rgb(0x545D6A),
		Hairline:    rgb(0xC3C9D1),
		Kern:        rgb(0x1560A8),
		KernFill:    rgb(0xD9E7F5),
		MaxPressure: rgb(0x3D4650),
		Tint:        rgb(0xE4E8EC),
		Faint:       rgb(0xF3F5F7),

		Small:  9,
		Text:   9.5,
		Strong: 11.5,
		Shoes: []Mark{
			{Disc, rgb(0xC05A00)},
			{Diamond, rgb(0x40235C)},
			{Square, rgb(0x008074)},
			{Triangle, rgb(0x8A1F4F)},
			{Cross, rgb(0x7A6A00)},
			{Wedge, rgb(0x2B2B2B)},
		},
	}
}

// markOf returns the mark of the i-th shoe of a comparison, counted from 0.
func (t *Theme) markOf(i int) Mark {
	m := t.Shoes[i%len(t.Shoes)]
	if i/len(t.Shoes)%2 == 1 {
		m.Shape += hollow
	}
	return m
}

// pressureGrey returns the grey of a pressure, given as a share of the largest
// pressure of the picture, 0 to 1.
func (t *Theme) pressureGrey(share float64) color.NRGBA {
	return mix(t.Paper, t.MaxPressure, min(1, max(0, share)))
}

func rgb(hex uint32) color.NRGBA {
	return color.NRGBA{uint8(hex >> 16), uint8(hex >> 8), uint8(hex), 0xFF}
}

// mix returns colour a with a share of colour b in it, 0 to 1. Pictures use
// mixed opaque colours because not every output format supports transparency.
func mix(a, b color.NRGBA, share float64) color.NRGBA {
	m := func(a, b uint8) uint8 { return uint8(float64(a) + share*(float64(b)-float64(a)) + 0.5) }
	return color.NRGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 0xFF}
}
