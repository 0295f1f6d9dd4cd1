package stats

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Estimates and exact intervals are those of R's wilcox.test, and the shares of all
// arrangements of signs those that R counts (testdata/wilcox.R).
func TestPairedDifferencesAgainstR(t *testing.T) {
	var r struct {
		Cases []struct {
			D        []float64
			Estimate float64
			CI95     [2]float64
			Level    float64
			FlipP    *float64 `json:"flip_p"`
		}
	}
	data, err := os.ReadFile("testdata/wilcox.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &r))
	require.Len(t, r.Cases, 8)
	for _, c := range r.Cases {
		s := HodgesLehmann(c.D)
		assert.InDelta(t, c.Estimate, s.Estimate, 1e-9)
		assert.InDelta(t, c.CI95[0], s.CI95.Lo, 1e-9)
		assert.InDelta(t, c.CI95[1], s.CI95.Hi, 1e-9)
		assert.InDelta(t, c.Level, s.Level, 1e-12)
		assert.True(t, s.Exact)
		if c.FlipP != nil {
			assert.InDelta(t, *c.FlipP, SignFlip(c.D, 1).P, 1e-12)
		}
	}
}

// 863 of the 32,768 sign arrangements of Darwin's maize reach the sum 314 (Fisher, The
// Design of Experiments (1935), § 21): two-sided p = 1726/32768.
func TestSignFlipOfDarwinsMaize(t *testing.T) {
	d := column(t, "maize.csv", "difference_eighths_inch")
	got := SignFlip(d, 1)
	assert.Equal(t, Randomization{P: 1726.0 / 32768, Draws: 32768, Exact: true}, got)
	// Another sign of all changes nothing.
	for i := range d {
		d[i] = -d[i]
	}
	assert.Equal(t, got, SignFlip(d, 1))
}

// Signs of more than 20 differences are drawn at random: the share lies within five of
// its standard errors of the share of all arrangements, and is determined by its seed.
func TestSignFlipDrawn(t *testing.T) {
	d := make([]float64, mostExact+1)
	size, sum := 0.0, 0.0
	for i := range d {
		d[i] = float64(i*i%17) - 6.5
		size += math.Abs(d[i])
		sum += d[i]
	}
	all := float64(reaching(d[1:], d[0], math.Abs(sum)-1e-12*size)) / math.Ldexp(1, len(d)-1)
	got := SignFlip(d, 7)
	assert.False(t, got.Exact)
	assert.Equal(t, signFlipDraws, got.Draws)
	assert.InDelta(t, all, got.P, 5*got.SE)
	assert.Equal(t, got, SignFlip(d, 7))
	far := slices.Repeat([]float64{1}, 80) // more signs than one number holds
	assert.InDelta(t, 1.0/(signFlipDraws+1), SignFlip(far, 7).P, 1e-12)
}

// The results without data, with one difference and with differences of 0 follow from the
// definitions.
func TestPairedDifferencesAtTheEdge(t *testing.T) {
	assert.True(t, math.IsNaN(SignFlip(nil, 1).P))
	assert.Equal(t, 1.0, SignFlip([]float64{3}, 1).P)
	assert.Equal(t, 1.0, SignFlip([]float64{0, 0, 0}, 1).P)
	assert.Equal(t, 0.5, SignFlip([]float64{1, 2}, 1).P)
	assert.True(t, math.IsNaN(HodgesLehmann(nil).Estimate))
	five := HodgesLehmann([]float64{1, 2, 3, 4, 5})
	assert.Equal(t, 3.0, five.Estimate)
	assert.True(t, math.IsNaN(five.CI95.Lo) && math.IsNaN(five.Level), "2/2^5 is above 5 %")
	same := HodgesLehmann(slices.Repeat([]float64{2}, 6))
	assert.Equal(t, Interval{2, 2}, same.CI95)
}

// The normal approximation replaces the exact distribution where it is as good: of the
// 20,100 Walsh averages of 200 differences, the ranks by both are at most three apart.
func TestSignedRankLimitOfMany(t *testing.T) {
	exact, level := signedRankLimit(mostRanked)
	n := float64(mostRanked)
	mean, sd := n*(n+1)/4, math.Sqrt(n*(n+1)*(2*n+1)/24)
	assert.InDelta(t, mean-1.959963984540054*sd, exact, 3)
	assert.InDelta(t, 0.95, level, 1e-4)
	c, level := signedRankLimit(mostRanked + 1)
	assert.Greater(t, c, exact)
	assert.InDelta(t, 0.95, level, 1e-3)
}

// Estimate and interval move with the data and change their sign with it; the p-value of
// the signs does not depend on the unit.
func TestPairedDifferencesMoveWithTheData(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SliceOfN(rapid.Float64Range(-10, 10), 6, 12).Draw(t, "d")
		by := rapid.Float64Range(-5, 5).Draw(t, "by")
		s := HodgesLehmann(d)
		require.LessOrEqual(t, s.CI95.Lo, s.Estimate)
		require.LessOrEqual(t, s.Estimate, s.CI95.Hi)
		require.GreaterOrEqual(t, s.Level, 0.95)
		moved, turned, whole := make([]float64, len(d)), make([]float64, len(d)), make([]float64, len(d))
		for i, x := range d {
			moved[i], turned[i], whole[i] = x+by, -x, math.Round(x)
		}
		m, u := HodgesLehmann(moved), HodgesLehmann(turned)
		require.InDelta(t, s.Estimate+by, m.Estimate, 1e-9)
		require.InDelta(t, s.CI95.Lo+by, m.CI95.Lo, 1e-9)
		require.InDelta(t, -s.CI95.Lo, u.CI95.Hi, 1e-9)
		for i, x := range whole {
			turned[i] = 0.1 * x
		}
		require.Equal(t, SignFlip(whole, 1).P, SignFlip(turned, 1).P)
	})
}
