package field

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device/platform"
)

// A tilted platform follows the middle-third rule (see beam): after a tilt from e to e +
// d its readings are those at e + d. Its contact share decreases by 3d/B if the load is
// beyond the middle third and is unchanged within it.
func TestTiltFollowsTheMiddleThirdRule(t *testing.T) {
	const width, depth, load, d = 36, 22, 400, 0.1
	strip := squared(5, 8, platform.Point{})
	grid := New(strip, platform.Rectangle(width, depth))
	for _, e := range []float64{-6, -5, -2, 0, 1, 4.5, 5.5} {
		p, share, _ := beam(strip, width, depth, load, e)
		at := grid.Reconstruct(p, nil)
		leant := grid.Tilt(at, p, nil, platform.Point{0, d})
		m := grid.ReconstructFrom(at, leant, nil)
		want, shareThere, most := beam(strip, width, depth, load, e+d)
		assert.InDelta(t, load, m.LoadN, 0.01*load, "e = %v mm", e)
		assert.InDelta(t, d, m.CoP[1]-at.CoP[1], 0.15*d, "e = %v mm", e)
		assert.InDelta(t, 0, m.CoP[0]-at.CoP[0], 1e-3, "e = %v mm", e)
		moved := math.Abs(m.ContactShare-at.ContactShare) / (m.CoP[1] - at.CoP[1])
		assert.InDelta(t, math.Abs(shareThere-share)/d, moved, 0.25*3/depth, "e = %v mm", e)
		for k := range want {
			assert.InDelta(t, want[k], leant[k], 0.005*most, "e = %v mm, cell %d", e, k)
		}
	}
}

func TestLeanOfNothing(t *testing.T) {
	grid := New(squared(5, 8, platform.Point{}), platform.Rectangle(36, 22))
	p := make([]float64, 40)
	assert.Equal(t, p, grid.Tilt(grid.Reconstruct(p, nil), p, nil, platform.Point{1, 1}))
	p[20] = 1000 // a single cell does not define a tilt
	m := grid.Reconstruct(p, nil)
	for _, v := range grid.Tilt(m, p, nil, platform.Point{1, 1}) {
		assert.False(t, math.IsNaN(v) || math.IsInf(v, 0))
	}
}
