package contrast_test

import (
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/plots/internal/contrast"
)

// Ratios that are common knowledge among those who check pages (from memory):
// 21 for black on white, of which the guidelines speak, and on either side of
// 4.5 the two neighbouring greys on white.
func TestKnownRatios(t *testing.T) {
	white := color.NRGBA{255, 255, 255, 255}
	grey := func(v uint8) color.NRGBA { return color.NRGBA{v, v, v, 255} }
	assert.InDelta(t, 21, contrast.Ratio(white, grey(0)), 1e-12)
	assert.InDelta(t, 21, contrast.Ratio(grey(0), white), 1e-12)
	assert.InDelta(t, 4.54, contrast.Ratio(white, grey(0x76)), 0.005)
	assert.InDelta(t, 4.48, contrast.Ratio(white, grey(0x77)), 0.005)
	assert.InDelta(t, 4.00, contrast.Ratio(white, color.NRGBA{255, 0, 0, 255}), 0.005)
}
