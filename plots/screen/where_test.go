package screen_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/device/platform"
	"aplomb/plots/screen"
)

// A kern 12 mm wide and 6 mm deep, so that its edges are at 6 and at 3 mm.
func TestWhere(t *testing.T) {
	kern := platform.Rectangle(12, 6)
	for _, c := range []struct {
		name   string
		at     platform.Point
		before measure.Verdict
		want   measure.Verdict
	}{
		{"inside", platform.Point{1, 1}, "", measure.OverTheBox},
		{"behind", platform.Point{1, -3.2}, "", measure.PulledBack},
		{"in front", platform.Point{1, 3.2}, "", measure.TooFarOver},
		{"beside", platform.Point{-6.2, 1}, "", measure.ToTheSide},
		{"further off behind than beside, for the size of the kern", platform.Point{7, -4}, "", measure.PulledBack},
		{"just outside, inside before", platform.Point{0, -3.2}, measure.OverTheBox, measure.OverTheBox},
		{"outside, inside before", platform.Point{0, -3.4}, measure.OverTheBox, measure.PulledBack},
		{"about as far on both axes, beside before", platform.Point{7, -3.6}, measure.ToTheSide, measure.ToTheSide},
		{"about as far on both axes, behind before", platform.Point{7.2, -3.5}, measure.PulledBack, measure.PulledBack},
		{"inside, behind before", platform.Point{0, -2.9}, measure.PulledBack, measure.OverTheBox},
	} {
		assert.Equal(t, c.want, screen.Where(kern, c.at, c.before), c.name)
	}
}
