package screen_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/device/platform"
	"aplomb/plots/screen"
)

// The kern is 12 mm wide and 6 mm deep, so its edges are at 6 and at 3 mm.
func TestWhere(t *testing.T) {
	const (
		behind, inFront = measure.Behind, measure.InFront
		little, big     = measure.LittleToeSide, measure.BigToeSide
	)
	is := func(v measure.Verdict, misses ...measure.Direction) screen.Place {
		return screen.Place{Verdict: v, Misses: misses}
	}
	over, back, side := is(measure.OverTheBox), is(measure.PulledBack, behind), is(measure.ToTheSide, big)
	kern := platform.Rectangle(12, 6)
	for _, c := range []struct {
		name         string
		at           platform.Point
		before, want screen.Place
	}{
		{"inside", platform.Point{1, 1}, screen.Place{}, over},
		{"behind", platform.Point{1, -3.2}, screen.Place{}, back},
		{"in front", platform.Point{1, 3.2}, screen.Place{}, is(measure.TooFarOver, inFront)},
		{"beside", platform.Point{-6.2, 1}, screen.Place{}, is(measure.ToTheSide, little)},
		{"behind and beside", platform.Point{-7, -4}, screen.Place{}, is(measure.PulledBack, behind, little)},
		{"beside and in front, more so beside", platform.Point{9, 4}, screen.Place{}, is(measure.ToTheSide, inFront, big)},
		{"just outside, inside before", platform.Point{0, -3.2}, over, over},
		{"outside, inside before", platform.Point{0, -3.4}, over, back},
		{"inside, behind before", platform.Point{0, -2.9}, back, over},
		{"behind, and just as far beside as before", platform.Point{5.6, -3.6}, is(measure.PulledBack, behind, big), is(measure.PulledBack, behind, big)},
		{"behind, and no longer beside", platform.Point{5.3, -3.6}, is(measure.PulledBack, behind, big), back},
		{"about as far on both axes, beside before", platform.Point{7, -3.6}, side, is(measure.ToTheSide, behind, big)},
		{"about as far on both axes, behind before", platform.Point{7.2, -3.5}, back, is(measure.PulledBack, behind, big)},
	} {
		assert.Equal(t, c.want, screen.Where(kern, c.at, c.before), c.name)
	}
}

// In the corner between the tips of a rhombus a point misses neither tip, and the verdict
// names the nearer one.
func TestWhereBetweenTips(t *testing.T) {
	kern := platform.Polygon{{6, 0}, {0, 3}, {-6, 0}, {0, -3}}
	assert.Equal(t, screen.Place{Verdict: measure.PulledBack}, screen.Where(kern, platform.Point{3, -2.5}, screen.Place{}))
	assert.Equal(t, screen.Place{Verdict: measure.ToTheSide}, screen.Where(kern, platform.Point{-5, -1}, screen.Place{}))
}
