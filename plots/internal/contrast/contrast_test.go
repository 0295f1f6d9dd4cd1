package contrast_test

import (
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/plots/internal/contrast"
)

// WCAG 2.2 gives the range of ratios as 1 to 21, black on white. The others are
// what public contrast checkers give for #767676, #777777 and #FF0000 on white:
// 4.54, 4.48 and 4.00; the two greys are neighbours on either side of 4.5.
func TestKnownRatios(t *testing.T) {
	white := color.NRGBA{255, 255, 255, 255}
	grey := func(v uint8) color.NRGBA { return color.NRGBA{v, v, v, 255} }
	assert.InDelta(t, 21, contrast.Ratio(white, grey(0)), 1e-12)
	assert.InDelta(t, 21, contrast.Ratio(grey(0), white), 1e-12)
	assert.InDelta(t, 4.54, contrast.Ratio(white, grey(0x76)), 0.005)
	assert.InDelta(t, 4.48, contrast.Ratio(white, grey(0x77)), 0.005)
	assert.InDelta(t, 4.00, contrast.Ratio(white, color.NRGBA{255, 0, 0, 255}), 0.005)
}
