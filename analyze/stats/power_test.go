package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestPowerAgainstScipy(t *testing.T) {
	var r struct {
		Cases, Needed []struct{ Delta, DOF, Power float64 }
		TwoSamples    []struct{ N, Effect, Power float64 } `json:"two_samples"`
	}
	read(t, "power.json", &r)
	require.Len(t, r.Cases, 40)
	for _, c := range r.Cases {
		assert.InDelta(t, c.Power, Power(c.Delta, c.DOF, 0.05), 1e-8, "delta %v, dof %v", c.Delta, c.DOF)
	}
	for _, c := range r.Needed {
		assert.InEpsilon(t, c.Delta, Detectable(0.8, c.DOF, 0.05), 1e-8, "dof %v", c.DOF)
	}
	for _, c := range r.TwoSamples {
		assert.InDelta(t, c.Power, Power(c.Effect*math.Sqrt(c.N/2), 2*c.N-2, 0.05), 1e-8)
	}
}

// Cohen, Statistical Power Analysis for the Behavioral Sciences (2nd ed., 1988), table
// 2.4.1: a medium effect of d = 0.50 requires n = 64 a group for 80 %, a large one of
// 0.80 requires 26.
func TestPowerOfCohensTable(t *testing.T) {
	needs := func(d float64) (n float64) {
		for n = 2; Power(d*math.Sqrt(n/2), 2*n-2, 0.05) < 0.8; n++ {
		}
		return n
	}
	assert.Equal(t, 64.0, needs(0.5))
	assert.Equal(t, 26.0, needs(0.8))
}

func TestPowerAtItsEdges(t *testing.T) {
	assert.InDelta(t, 0.05, Power(0, 7, 0.05), 1e-9, "no difference: called by chance alone")
	assert.InDelta(t, 0.8, Power(1.959964+0.841621, math.Inf(1), 0.05), 1e-6)
	assert.InDelta(t, 0.01, Power(0, 7, 0.01), 1e-9)
	assert.InDelta(t, 0.8, Power(2.575829+0.841621, math.Inf(1), 0.01), 1e-6, "the normal quantiles of 0.995 and 0.8")
	assert.True(t, math.IsNaN(Power(1, 5, 0)) && math.IsNaN(Detectable(0.8, 5, 0)))
	assert.Equal(t, 0.0, Power(9, 0, 0.05))
	assert.True(t, math.IsNaN(Power(1, -1, 0.05)) && math.IsNaN(Power(math.NaN(), 5, 0.05)))
	assert.True(t, math.IsInf(Detectable(0.8, 0, 0.05), 1))
	for _, p := range []float64{0.05, 1, math.NaN()} {
		assert.True(t, math.IsNaN(Detectable(p, 5, 0.05)))
	}
}

func TestPowerProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dof := rapid.Float64Range(1, 300).Draw(t, "dof")
		d := rapid.Float64Range(0, 8).Draw(t, "delta")
		p := Power(d, dof, 0.05)
		assert.InDelta(t, p, Power(-d, dof, 0.05), 1e-12)
		assert.GreaterOrEqual(t, Power(d+0.5, dof, 0.05), p-1e-12)
		assert.GreaterOrEqual(t, Power(d, dof+5, 0.05), p-1e-9)
		if p > 0.06 && p < 0.999 {
			assert.InEpsilon(t, d, Detectable(p, dof, 0.05), 1e-6)
		}
	})
}

func BenchmarkDetectable(b *testing.B) {
	for b.Loop() {
		Detectable(0.8, 9.3, 0.05)
	}
}
