package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// Mean squares and quantiles are those of R; see testdata/repeated.R.
func TestLimitsOfRepeatedAgainstR(t *testing.T) {
	var cases []struct {
		Groups       [][]float64
		Bias, SD     float64
		Lower, Upper []float64
	}
	read(t, "repeated.json", &cases)
	require.Len(t, cases, 3)
	for _, c := range cases {
		a := LimitsOfRepeated(c.Groups, 0)
		assert.InDelta(t, c.Bias, a.Bias, 1e-10)
		assert.InDelta(t, c.SD, a.SD, 1e-10)
		assert.InDeltaSlice(t, c.Lower, []float64{a.Lower95.Lo, a.Lower95.Hi}, 1e-6)
		assert.InDeltaSlice(t, c.Upper, []float64{a.Upper95.Lo, a.Upper95.Hi}, 1e-6)
		fewer := LimitsOfRepeated(c.Groups, 2)
		assert.Greater(t, fewer.Upper95.Hi, a.Upper95.Hi, "fewer degrees of freedom widen the interval")
		assert.Equal(t, a.Limits, fewer.Limits)
	}
}

// Bland & Altman's pairs within subjects, testdata/cardiac.csv: the sum of the components is
// their variance of one difference, and the mean of the subjects' means theirs. Limits of
// repeated differences weight subjects alike, where they weight pairs alike: with three to
// six pairs a subject the standard deviations differ by 3.3 %.
func TestRepeatedDifferencesOfBlandAndAltman(t *testing.T) {
	subject, rv, ic := column(t, "cardiac.csv", "subject"), column(t, "cardiac.csv", "rv_l_min"), column(t, "cardiac.csv", "ic_l_min")
	groups := make([][]float64, 12)
	all := make([]float64, len(subject))
	for i, s := range subject {
		all[i] = rv[i] - ic[i]
		groups[int(s)-1] = append(groups[int(s)-1], all[i])
	}
	one := SplitOneWay(groups)
	sd := math.Sqrt(one.MSWithin + one.Between())
	assert.InDelta(t, 0.99062408, sd, 1e-7)
	mean := stat.Mean(all, nil)
	assert.InDelta(t, 0.6021667, mean, 5e-8)
	assert.InDelta(t, -1.3394565, mean-agreementZ*sd, 1e-6)
	assert.InDelta(t, 2.5437899, mean+agreementZ*sd, 1e-6)
	a := LimitsOfRepeated(groups, 0)
	assert.InDelta(t, 0.7092, a.Bias, 5e-5)
	assert.InEpsilon(t, 1.033*sd, a.SD, 1e-3)
}

// Groups of equal size: the variance of one difference is the sum of the components of the
// one-way analysis of variance. Copies of one value for
// each group leave the limits of the means.
func TestLimitsOfRepeatedInClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, m := rapid.IntRange(2, 6).Draw(t, "groups"), rapid.IntRange(2, 5).Draw(t, "size")
		value := rapid.Float64Range(-10, 10)
		groups, copies, means := make([][]float64, k), make([][]float64, k), make([]float64, k)
		for i := range groups {
			for range m {
				v := value.Draw(t, "difference")
				groups[i] = append(groups[i], v)
				means[i] += v / float64(m)
			}
			for range m {
				copies[i] = append(copies[i], means[i])
			}
		}
		one := SplitOneWay(groups)
		assert.InDelta(t, math.Sqrt(max(0, one.MSWithin+one.Between())), LimitsOfRepeated(groups, 0).SD, 1e-6)
		a := LimitsOfRepeated(copies, 0)
		mean, sd := stat.MeanStdDev(means, nil)
		assert.InDelta(t, sd, a.SD, 1e-6)
		assert.InDelta(t, mean, a.Bias, 1e-9)
		assert.Equal(t, k*m, a.N)
	})
	for _, groups := range [][][]float64{nil, {{1, 2}}, {{1}, {2}, nil}} {
		assert.True(t, math.IsNaN(LimitsOfRepeated(groups, 0).SD))
	}
}

// The intervals of the limits contain the true limits in 95 of 100 samples: of 1000
// samples drawn from normal distributions with a fixed seed, 92 to 99 %.
func TestCoverageOfLimitsOfRepeated(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	for _, sd := range [][2]float64{{1, 0.3}, {0.5, 1}} {
		upper := 1 + agreementZ*math.Hypot(sd[0], sd[1])
		held, biases := 0.0, 0.0
		const samples = 1000
		groups := make([][]float64, 12)
		for range samples {
			for i := range groups {
				effect := 1 + sd[0]*rnd.NormFloat64()
				groups[i] = groups[i][:0]
				for range 3 + i%4 {
					groups[i] = append(groups[i], effect+sd[1]*rnd.NormFloat64())
				}
			}
			a := LimitsOfRepeated(groups, 0)
			if a.Upper95.Contains(upper) {
				held++
			}
			if a.Bias95.Contains(1) {
				biases++
			}
		}
		t.Logf("between %g, within %g: limit in %.1f %%, bias in %.1f %%", sd[0], sd[1], 100*held/samples, 100*biases/samples)
		assert.InDelta(t, 0.955, held/samples, 0.035)
		assert.InDelta(t, 0.95, biases/samples, 0.03)
	}
}
