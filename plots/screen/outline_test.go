package screen

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"aplomb/device/platform"
	"aplomb/plots/words"
)

// The kern of a rectangle b × h is the rhombus with semi-diagonals b/6 and h/6 (textbooks
// of structural mechanics), so its extent is a third of the rectangle's each way.
func TestOutline(t *testing.T) {
	drawn := Outline(platform.Rectangle(36, 24))
	assert.Contains(t, drawn, "o platform, 36.0 mm wide, 24.0 deep, 864 mm²\n")
	assert.Contains(t, drawn, "+ "+words.Kern+", 12.0 mm wide, 8.0 deep:\n     "+words.KernIs+"\n")
	lines := strings.Split(strings.ReplaceAll(drawn, "·", " "), "\n")
	var rim, kern []int // columns by line
	for _, l := range lines[:len(lines)-3] {
		if n := strings.Count(l, "o"); !strings.Contains(l, "front") && n > 0 {
			rim = append(rim, strings.LastIndex(strings.TrimSuffix(l, "  big toe"), "o")-strings.Index(l, "o"))
		}
		if strings.Contains(l, "+") {
			kern = append(kern, strings.LastIndex(l, "+")-strings.Index(l, "+"))
		}
	}
	assert.InDelta(t, 36.0*outlineWide/45, float64(rim[len(rim)/2]), 2)
	assert.InDelta(t, 24.0*outlineWide/45/2, float64(len(rim)), 2, "a character is twice as high as wide")
	widest := 0
	for _, k := range kern {
		widest = max(widest, k)
	}
	assert.InDelta(t, 12.0*outlineWide/45, float64(widest), 4, "the tips, single dots, are not drawn")
}

// The drawing of any platform fits a terminal and is plain text.
func TestOutlineFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.Float64Range(0.01, 500).Draw(t, "width")
		depth := rapid.Float64Range(0.01, 500).Draw(t, "depth")
		drawn := Outline(platform.Superellipse(width, depth, rapid.Float64Range(1, 200).Draw(t, "exponent")))
		assert.NotContains(t, drawn, "\x1b")
		lines := strings.Split(strings.ReplaceAll(drawn, "·", " "), "\n")
		assert.Less(t, len(lines), 40)
		for _, l := range lines[:len(lines)-2] {
			assert.LessOrEqual(t, utf8.RuneCountInString(l), 80)
			assert.Equal(t, strings.TrimRight(l, " "), l)
		}
	})
}
