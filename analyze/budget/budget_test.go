package budget_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

func line(source measure.Source, u, dof float64) measure.Contribution {
	return measure.Contribution{Source: source, Type: measure.TypeB, Distribution: measure.Normal, U: u, DOF: measure.DOF(dof)}
}

// JCGM 100:2008, example H.1, the calibration of an end gauge: 32 nm with 16 degrees of
// freedom, expanded at 99 % to 93 nm, which is 2.92 times 32 nm. The derivation of the
// lines from the example's inputs is in package stats, at TestEndGaugeOfTheGuide.
func TestEndGauge(t *testing.T) {
	b := budget.Of(
		line("standard gauge", 25, 18),
		line("difference of the gauges", 9.7, 25.6),
		line("difference of expansion", 2.9, 50),
		line("difference of temperature", 16.6, 2),
		line("expansion of the standard", 0, math.Inf(1)),
		line("temperature of the bed", 0, math.Inf(1)),
	)
	assert.InDelta(t, 32, b.U, 0.5)
	assert.Equal(t, 16.0, math.Floor(float64(b.DOF)), "truncated, as the guide does")
	assert.InDelta(t, 93, stats.TQuantile(0.995, math.Floor(float64(b.DOF)))*math.Round(b.U), 0.6)
	assert.InDelta(t, 25*25/(b.U*b.U), b.Sources[0].Share, 1e-12)
}

// The figure of JCGM 100:2008, 4.3.7, for a rectangular distribution.
func TestUniformWithin(t *testing.T) {
	assert.InDelta(t, 0.57735, budget.UniformWithin(1), 1e-5)
	assert.Equal(t, budget.UniformWithin(2), budget.UniformWithin(-2))
}

func TestBudget(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(0, 10)
		var lines []measure.Contribution
		for range rapid.IntRange(1, 8).Draw(t, "lines") {
			lines = append(lines, line("s", u.Draw(t, "u"), rapid.Float64Range(1, 100).Draw(t, "dof")))
		}
		b := budget.Of(lines...)
		shares, squares := 0.0, 0.0
		for i, l := range lines {
			shares += b.Sources[i].Share
			squares += l.U * l.U
		}
		assert.InDelta(t, math.Sqrt(squares), b.U, 1e-9)
		if b.U > 0 {
			assert.InDelta(t, 1, shares, 1e-9)
			assert.Greater(t, b.Expanded, 1.95*b.U)
		}
		same := budget.Typical([]measure.Budget{b, b, b})
		assert.InDelta(t, b.U, same.U, 1e-9)
		_, err := json.Marshal(b)
		require.NoError(t, err)
	})
}

func TestTypicalIsRootMeanSquare(t *testing.T) {
	b := budget.Typical([]measure.Budget{
		budget.Of(line("x", 3, 8), line("y", 0, 9)),
		budget.Of(line("x", 4, 8), line("y", 1, 9)),
	})
	assert.InDelta(t, math.Sqrt(12.5), b.Sources[0].U, 1e-12)
	assert.InDelta(t, math.Sqrt(0.5), b.Sources[1].U, 1e-12)
	assert.InDelta(t, math.Sqrt(13), b.U, 1e-12)
}

// Shares of a zero uncertainty are 0, and unlimited degrees of freedom are omitted.
func TestJSON(t *testing.T) {
	data, err := json.Marshal(budget.Of(line("gauge", 0, math.Inf(1)), line("bed", 0, 8)))
	require.NoError(t, err)
	assert.JSONEq(t, `{"sources": [
		{"source": "gauge", "type": "B", "distribution": "normal", "u": 0, "share": 0, "basis": ""},
		{"source": "bed", "type": "B", "distribution": "normal", "u": 0, "dof": 8, "share": 0, "basis": ""}],
		"u": 0, "expanded95": 0}`, string(data))
}
