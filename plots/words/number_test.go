package words_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

func TestNumbers(t *testing.T) {
	over, share, kern := words.DisplayOf(measure.Over), words.DisplayOf(measure.ContactShare), words.DisplayOf(measure.KernRatio)
	assert.Equal(t, "−5.8 mm", over.Value(-5.84))
	assert.Equal(t, "0.0 mm", over.Value(-0.04))
	assert.Equal(t, "64 %", share.Value(0.638))
	assert.Equal(t, "1.20", kern.Value(1.2))
	assert.Equal(t, "–", words.Number(math.NaN(), 1))
	assert.Equal(t, "–", words.Number(math.Inf(-1), 1))
	assert.Equal(t, "20", words.Trimmed(20.04, 1))
	assert.Equal(t, "−24.5", words.Trimmed(-24.5, 2))
	assert.Equal(t, "20", words.Trimmed(20, 0))
	assert.Equal(t, "100", words.Digits(99.7, 2), "no exponent")
	assert.Equal(t, "0.00002346", words.Digits(2.3456e-5, 4))
	assert.Equal(t, "−3", words.Digits(-3.0004, 4))
	assert.Equal(t, "–", words.Digits(math.Inf(1), 2))
	assert.Equal(t, "+5.0 mm (2.7 to 7.3)", over.Difference(5, &[2]float64{2.7, 7.3}))
	assert.Equal(t, "−5.0 mm (−7.3 to 2.7)", over.Difference(-5, &[2]float64{-7.3, 2.7}))
	assert.Equal(t, "0.0 mm", over.Difference(0.01, nil))
	assert.Equal(t, "+24 percentage points (12 to 36)", share.Difference(0.24, &[2]float64{0.12, 0.36}))
	assert.Equal(t, "−1 percentage point (−4 to 2)", share.Difference(-0.011, &[2]float64{-0.04, 0.02}))
	assert.Equal(t, "+11 percentage points", share.Difference(0.11, nil))
	assert.Equal(t, "−6.2 ± 1.7 mm", over.PlusMinus(-6.2, &[2]float64{-7.9, -4.5}))
	assert.Equal(t, "−6.2 mm", over.PlusMinus(-6.2, nil))
	// 2.571 is the quantile of Student's t with 5 degrees of freedom, 1.960 that of the
	// normal distribution (any table).
	u := 1.0
	assert.Equal(t, "−6.2 ± 2.6 mm", over.WithU(-6.2, &u, 5))
	assert.Equal(t, "−6.2 ± 2.0 mm", over.WithU(-6.2, &u, measure.Unlimited))
	assert.Equal(t, "−6.2 ± 2.0 mm", over.WithU(-6.2, &u, 0))
	u = 0.05
	assert.Equal(t, "96 % (86 to 100), all", share.WithU(0.96, &u, 0))
	assert.Equal(t, "64 %", share.WithU(0.638, nil, 0))
	for n, want := range []string{"0 gaps", "1 gap", "2 gaps"} {
		assert.Equal(t, want, words.Count(n, "gap", "gaps"))
	}
}

// Every measure of the catalogue has a title, and its unit unless it is a
// proportion.
func TestEveryMeasureHasADisplay(t *testing.T) {
	for _, m := range measure.All() {
		d := words.DisplayOf(m)
		assert.Equal(t, m, d.Measure)
		assert.NotEmpty(t, d.Title)
		assert.NotContains(t, d.Title, "_")
		if m.Describe().Proportion {
			assert.Equal(t, "%", d.Unit)
		} else {
			assert.Equal(t, m.Describe().Unit, d.Unit)
		}
	}
}
