package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

// presses returns known weights at nine points, measured by a strip without bias and with
// the given scatter.
func presses(rng *rand.Rand, loadScatter, placeScatter float64) (p []Press) {
	for _, medial := range []float64{-12, 0, 10} {
		for _, over := range []float64{-7, 0, 6} {
			at := platform.Point{medial, over}
			p = append(p, Press{
				LoadN: 100, At: at, MeasuredN: 100 * (1 + loadScatter*rng.NormFloat64()),
				MeasuredAt: platform.Point{medial + placeScatter*rng.NormFloat64(), over + placeScatter*rng.NormFloat64()},
			})
		}
	}
	return p
}

func TestVerifyPassesAndFails(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		p := presses(rng, 0.005, 0.1)
		v, err := Verify(p, DefaultLimits())
		require.NoError(t, err)
		assert.True(t, v.Pass)
		assert.Empty(t, v.Warnings)

		// A load that is off by a tenth fails every press.
		fault := rapid.SampledFrom([]float64{0.9, 1.1}).Draw(t, "fault")
		for i := range p {
			p[i].MeasuredN *= fault
		}
		v, err = Verify(p, DefaultLimits())
		require.NoError(t, err)
		assert.False(t, v.Pass)
		assert.InDelta(t, fault-1, v.Bias, 0.01)
		for _, w := range v.Presses {
			assert.False(t, w.Pass)
			assert.Contains(t, w.Why, "load is off by")
		}
	})
}

func TestVerifyNamesWhatIsWrong(t *testing.T) {
	change := func(f func(p *Press)) Verification {
		p := presses(rand.New(rand.NewPCG(1, 1)), 0.005, 0.1)
		for i := range p {
			f(&p[i])
		}
		v, err := Verify(p, DefaultLimits())
		require.NoError(t, err)
		require.False(t, v.Pass)
		return v
	}
	for says, f := range map[string]func(p *Press){
		"with the sides exchanged":                       func(p *Press) { p.MeasuredAt[0] *= -1 },
		"with front and back exchanged":                  func(p *Press) { p.MeasuredAt[1] *= -1 },
		"turned half round":                              func(p *Press) { p.MeasuredAt[0], p.MeasuredAt[1] = -p.MeasuredAt[0], -p.MeasuredAt[1] },
		"all places are off alike, by [3":                func(p *Press) { p.MeasuredAt[0] += 3 },
		"perhaps weights in kg were taken for N":         func(p *Press) { p.MeasuredN /= 9.8 },
		"perhaps weights in N were taken for kg when it": func(p *Press) { p.MeasuredN *= 9.8 },
	} {
		v := change(f)
		require.Len(t, v.Warnings, 1, says)
		assert.Contains(t, v.Warnings[0], says)
	}
	v := change(func(p *Press) { p.MeasuredAt = platform.Point{nan, nan}; p.MeasuredN = 10 })
	assert.Equal(t, "load is off by -90.0 %, limit 5.0; no centre of pressure", v.Presses[0].Why)
	assert.True(t, math.IsNaN(v.RMSCoPMM))
	assert.Contains(t, DefaultLimits().Basis, "our own choice")
}

// One failed press of nine fails the strip, by load or by position.
func TestVerifyNeedsEveryPress(t *testing.T) {
	p := presses(rand.New(rand.NewPCG(2, 1)), 0, 0)
	p[4].MeasuredAt[1] += 1.2
	v, err := Verify(p, DefaultLimits())
	require.NoError(t, err)
	assert.False(t, v.Pass)
	for i, w := range v.Presses {
		assert.Equal(t, i != 4, w.Pass)
	}
	assert.Equal(t, "centre of pressure is off by 1.20 mm, limit 1.00", v.Presses[4].Why)
	assert.InDelta(t, 0.4, v.RMSCoPMM, 1e-12)

	v, err = Verify(p[:3], DefaultLimits())
	require.NoError(t, err)
	assert.Contains(t, v.Warnings[0], "3 different places")
}

func TestVerifyRefuses(t *testing.T) {
	_, err := Verify(nil, DefaultLimits())
	assert.ErrorContains(t, err, "no presses")
	_, err = Verify([]Press{{LoadN: 0}}, DefaultLimits())
	assert.ErrorContains(t, err, "press 1: 0 N")
	_, err = Verify([]Press{{LoadN: 1, At: platform.Point{nan, 0}}}, DefaultLimits())
	assert.ErrorContains(t, err, "press 1")
	_, err = Verify([]Press{{LoadN: 1}}, Limits{Load: nan, CoPMM: 1})
	assert.ErrorContains(t, err, "both must be above 0")
	// A measured load of NaN fails.
	v, err := Verify([]Press{{LoadN: 1, MeasuredN: nan}}, DefaultLimits())
	require.NoError(t, err)
	assert.False(t, v.Pass)
}
