package stats

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// NIST Statistical Reference Datasets, linear regression, "Norris": the
// certified values are the ones published with the data.
func TestFitLineNorris(t *testing.T) {
	l := FitLine(column(t, "norris.csv", "x"), column(t, "norris.csv", "y"))
	assert.InEpsilon(t, -0.262323073774029, l.Intercept, 1e-10)
	assert.InEpsilon(t, 1.00211681802045, l.Slope, 1e-13)
	assert.InEpsilon(t, 0.232818234301152, l.UIntercept, 1e-12)
	assert.InEpsilon(t, 0.429796848199937e-3, l.USlope, 1e-12)
	assert.InEpsilon(t, 0.884796396144373, l.ResidualSD, 1e-12)
	assert.Equal(t, 34.0, l.DOF)
}

// JCGM 100:2008, example H.3, the calibration of a thermometer: table H.6 about
// 20 °C, and the correction predicted at 30 °C. Data and results are from
// memory; that they agree with each other is the check of both.
func TestFitLineThermometer(t *testing.T) {
	at := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	correction := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	for i := range at {
		at[i] -= 20
	}
	l := FitLine(at, correction)
	assert.InDelta(t, -0.1712, l.Intercept, 5e-5)
	assert.InDelta(t, 0.0029, l.UIntercept, 5e-5)
	assert.InDelta(t, 0.00218, l.Slope, 5e-6)
	assert.InDelta(t, 0.00067, l.USlope, 5e-6)
	assert.InDelta(t, -0.930, l.Correlation, 5e-4)
	assert.InDelta(t, 0.0035, l.ResidualSD, 5e-5)
	y, u := l.At(10)
	assert.InDelta(t, -0.1494, y, 5e-5)
	assert.InDelta(t, 0.0041, u, 5e-5)
}

func TestFitLineAtItsEdges(t *testing.T) {
	for _, l := range []Line{FitLine(nil, nil), FitLine([]float64{1}, []float64{1}), FitLine([]float64{0.1, 0.1, 0.1}, []float64{1, 2, 3}), FitLine([]float64{1, 2}, []float64{1})} {
		assert.True(t, math.IsNaN(l.Slope) && math.IsNaN(l.Intercept) && math.IsNaN(l.USlope))
	}
	two := FitLine([]float64{1, 3}, []float64{2, 8})
	assert.Equal(t, 3.0, two.Slope)
	assert.Equal(t, -1.0, two.Intercept)
	assert.Equal(t, 0.0, two.DOF)
	assert.True(t, math.IsNaN(two.USlope) && math.IsNaN(two.ResidualSD))
	exact := FitLine([]float64{1, 2, 3}, []float64{3, 5, 7})
	assert.InDelta(t, 0, exact.USlope, 1e-12)
}

// Mean squares are those of scipy.stats.f_oneway, and variances those of
// restricted maximum likelihood where the two are known to agree.
func TestOneWayAgainstSciPy(t *testing.T) {
	data, err := os.ReadFile("testdata/oneway.json")
	require.NoError(t, err)
	var reference struct {
		Cases []struct {
			Groups          [][]float64
			F               float64
			Between, Within float64
		}
	}
	require.NoError(t, json.Unmarshal(data, &reference))
	byLikelihood := 0
	for _, c := range reference.Cases {
		o := SplitOneWay(c.Groups)
		assert.InEpsilon(t, c.F, o.MSBetween/o.MSWithin, 1e-10)
		if c.Within > 0 {
			byLikelihood++
			assert.InEpsilon(t, c.Between, o.Between(), 1e-5)
			assert.InEpsilon(t, c.Within, o.MSWithin, 1e-5)
		}
	}
	assert.Equal(t, 3, byLikelihood)
}

func TestOneWayAtItsEdges(t *testing.T) {
	for _, groups := range [][][]float64{nil, {{1, 2}}, {{1}, {2}}, {{1, 2}, {}}} {
		o := SplitOneWay(groups)
		assert.True(t, math.IsNaN(o.Between()) && math.IsNaN(o.BetweenDOF()) && math.IsNaN(o.BetweenSD95().Hi))
	}
	alike := SplitOneWay([][]float64{{1, 3}, {1, 3}})
	assert.Negative(t, alike.Between())
	assert.Equal(t, 0.0, alike.BetweenDOF())
	assert.Equal(t, 0.0, alike.BetweenSD95().Lo)

	// Without scatter within the groups nothing but chi-square remains: for 4
	// groups 9.3484 and 0.2158 at 3 degrees of freedom (any table).
	o := SplitOneWay([][]float64{{1, 1}, {2, 2}, {4, 4}, {7, 7}})
	sd := math.Sqrt(o.Between())
	assert.InDelta(t, math.Sqrt(7), sd, 1e-12) // mean 3.5: (6.25 + 2.25 + 0.25 + 12.25)/3
	assert.Equal(t, 3.0, o.BetweenDOF())
	assert.InEpsilon(t, sd*math.Sqrt(3/9.3484), o.BetweenSD95().Lo, 1e-4)
	assert.InEpsilon(t, sd*math.Sqrt(3/0.2158), o.BetweenSD95().Hi, 1e-4)
}

// The parts make up the whole: sums of squares add up to that about the mean.
func TestOneWaySplitsTheSumOfSquares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups := rapid.SliceOfN(rapid.SliceOfN(rapid.Float64Range(-10, 10), 2, 6), 2, 6).Draw(t, "groups")
		var all []float64
		for _, g := range groups {
			all = append(all, g...)
		}
		mean, total := 0.0, 0.0
		for _, v := range all {
			mean += v / float64(len(all))
		}
		for _, v := range all {
			total += (v - mean) * (v - mean)
		}
		o := SplitOneWay(groups)
		assert.InDelta(t, total, o.MSBetween*o.DOFBetween+o.MSWithin*o.DOFWithin, 1e-9*(1+total))
		assert.Equal(t, float64(len(all)-1), o.DOFBetween+o.DOFWithin)
	})
}
