package cells_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/cells"
	"aplomb/device"
	"aplomb/device/sim"
)

// A strip with a nonlinear curve and unequal gains, whose kpa_per_count is 0, has the
// same loads and faults as one with a linear curve.
func TestFaultsThroughACurve(t *testing.T) {
	bent := func(do func(*sim.Setup)) *cells.Monitor {
		s := usual()
		c := &s.Feet[0].Strip.Calibration
		*c = device.Calibration{Curve: "power", KPaAtOneCount: 0.03, Exponent: 1.4, GainSD: 0.03}
		for k := range s.Feet[0].Strip.Cells() {
			c.Gains = append(c.Gains, 1+0.1*float64(k%2*2-1))
		}
		require.NoError(t, s.Feet[0].Strip.Check())
		do(&s)
		return watched(t, s)[0]
	}
	sound := bent(breaks())
	assert.Empty(t, sound.Faults())
	assert.Equal(t, 4, sound.Loads())

	line := usual()
	breaks(sim.Broken{Row: 2, Col: 3})(&line)
	want := watched(t, line)[0].Faults()
	got := bent(breaks(sim.Broken{Row: 2, Col: 3})).Faults()
	require.Equal(t, places(want), places(got))
	assert.InEpsilon(t, want[0].LoadShare, got[0].LoadShare, 0.3, "of the same load on the same cell")
	assert.InDelta(t, want[0].ShiftMM, got[0].ShiftMM, 0.1)
}
