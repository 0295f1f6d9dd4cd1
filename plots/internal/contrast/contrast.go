// Package contrast computes contrast ratios of colours, for the tests of pictures
// and sheets. Its source is the Web Content Accessibility Guidelines (WCAG) 2.2,
// W3C Recommendation of 5 October 2023, definitions of relative luminance and of
// contrast ratio.
package contrast

import (
	"image/color"
	"math"
)

// The contrast ratios that level AA requires (success criteria 1.4.3 and 1.4.11).
const (
	Text      = 4.5
	LargeText = 3 // from 18 points on, or bold from 14 points on
	Graphics  = 3 // parts that are needed to understand a picture or to use a control
)

// Ratio returns the contrast ratio of two opaque colours in sRGB, 1 to 21.
func Ratio(a, b color.NRGBA) float64 {
	light, dark := luminance(a), luminance(b)
	if light < dark {
		light, dark = dark, light
	}
	return (light + 0.05) / (dark + 0.05)
}

// luminance returns the relative luminance: 0 for black and 1 for white.
func luminance(c color.NRGBA) float64 {
	linear := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}
