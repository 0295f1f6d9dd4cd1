package plan_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/plan"
	"aplomb/device"
	"aplomb/device/platform"
)

// A strip of 40 × 25 mm covers a platform of 39 × 24 mm in 15 % of mountings that
// repeat to 1 mm: each margin is 0.5 mm, and Φ(0.5) = 0.6914624613 (Abramowitz and
// Stegun, Handbook of Mathematical Functions, table 26.1), so that
// (2·Φ(0.5) − 1)² = 0.3829249225² = 0.1466.
func TestCoverProbability(t *testing.T) {
	half := [2][2]float64{{0.5, 0.5}, {0.5, 0.5}}
	assert.InDelta(t, 0.3829249225*0.3829249225, plan.CoverProbability(half, 1), 1e-9)
	// Φ(1) = 0.8413447461, from the same table: half the scatter is twice the margin.
	assert.InDelta(t, math.Pow(2*0.8413447461-1, 2), plan.CoverProbability(half, 0.5), 1e-9)
	// A strip that lies 2 mm too far back: 2.5 mm of margin there, 1.5 mm short in front.
	// Φ(2.5) = 0.9937903347 and Φ(1.5) = 0.9331927987.
	assert.InDelta(t, 0.3829249225*(0.9937903347-0.9331927987), plan.CoverProbability([2][2]float64{{0.5, 0.5}, {2.5, -1.5}}, 1), 1e-9)

	assert.Zero(t, plan.CoverProbability([2][2]float64{{0.5, 0.5}, {-0.1, -0.1}}, 1), "a strip that is too small covers nothing")
	assert.Equal(t, 1.0, plan.CoverProbability(half, 0))
	assert.Zero(t, plan.CoverProbability([2][2]float64{{0.5, 0.5}, {2.5, -1.5}}, 0))
}

// Drawn mountings cover a platform as often as the probability states, with rotated
// strips too. With 4,000 mountings a right probability is missed by more than four
// standard errors once in 16,000 times.
func TestCoverProbabilityOfDrawnMountings(t *testing.T) {
	const n = 4000
	outline := platform.Superellipse(37, 22, 2.5)
	strip := device.Strip{Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, Mount: device.Mount{OffsetMM: [2]float64{0.4, -0.3}, RotationDeg: 4}}
	p := plan.CoverProbability(strip.Margins(outline), 0.8)
	g := rand.New(rand.NewPCG(1, 2))
	covered := 0.0
	for range n {
		drawn := strip
		drawn.Mount.OffsetMM = [2]float64{0.4 + 0.8*g.NormFloat64(), -0.3 + 0.8*g.NormFloat64()}
		if drawn.CoveredShare(outline) > 1-1e-12 {
			covered++
		}
	}
	t.Logf("computed %.3f, drawn %.3f", p, covered/n)
	assert.InDelta(t, p, covered/n, 4*math.Sqrt(p*(1-p)/n))
}
