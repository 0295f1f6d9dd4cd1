package stats

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// Shrout & Fleiss, Psychological Bulletin 86 (1979) 420-428: table 2 (data) and
// table 4 (correlations). The mean squares are an analysis of variance of table 2,
// from which table 4 follows.
func TestICCOfShroutAndFleiss(t *testing.T) {
	judges := [][]float64{
		column(t, "raters.csv", "judge1"), column(t, "raters.csv", "judge2"),
		column(t, "raters.csv", "judge3"), column(t, "raters.csv", "judge4"),
	}
	table := make([][]float64, len(judges[0]))
	for i := range table {
		for _, j := range judges {
			table[i] = append(table[i], j[i])
		}
	}
	w := SplitTwoWay(table)
	assert.InDelta(t, 11.24, w.MSSubjects, 5e-3)
	assert.InDelta(t, 6.26, w.MSWithin, 5e-3)
	assert.InDelta(t, 32.49, w.MSRaters, 5e-3)
	assert.InDelta(t, 1.02, w.MSResidual, 5e-3)
	icc := w.ICC()
	assert.InDeltaSlice(t, []float64{0.17, 0.29, 0.71}, icc.Single[:], 5e-3)
	assert.InDeltaSlice(t, []float64{0.44, 0.62, 0.91}, icc.Mean[:], 5e-3)
	assert.InDelta(t, math.Sqrt(6.26), math.Sqrt(w.MSWithin), 1e-3)

	sd, dof := PooledSD(table)
	assert.InDelta(t, math.Sqrt(w.MSWithin), sd, 1e-12)
	assert.Equal(t, 18.0, dof)
}

// Bland & Altman, Lancet i (1986) 307-310, first measurement by each meter. They
// take two standard deviations: -79.7 to 75.5 l/min.
func TestLimitsOfBlandAndAltman(t *testing.T) {
	a := LimitsOfAgreement(column(t, "peakflow.csv", "large_meter_l_min"), column(t, "peakflow.csv", "mini_meter_l_min"))
	assert.Equal(t, 17, a.N)
	assert.InDelta(t, -2.1, a.Bias, 0.05)
	assert.InDelta(t, 38.8, a.SD, 0.05)
	assert.InDelta(t, -79.7, a.Bias-2*a.SD, 0.1) // the paper rounds before it adds
	assert.InDelta(t, 75.5, a.Bias+2*a.SD, 0.1)
	assert.InDelta(t, a.Bias-1.96*a.SD, a.Limits.Lo, 1e-12)
	assert.InDelta(t, a.Bias+1.96*a.SD, a.Limits.Hi, 1e-12)
}

// Correlations and intervals are those of psych, and intervals of limits those of R's
// non-central t; see testdata/icc.R.
func TestICCAndLimitsAgainstR(t *testing.T) {
	var r struct {
		Cases []struct {
			Table       [][]float64
			ICC, Lo, Hi []float64
		}
		Peakflow struct {
			N            int
			Mean, SD     float64
			Lower, Upper []float64
		}
	}
	read(t, "icc.json", &r)
	require.Len(t, r.Cases, 5)
	for _, c := range r.Cases {
		w := SplitTwoWay(c.Table)
		icc := w.ICC()
		for k, ci := range w.ICC95() {
			assert.InDelta(t, c.ICC[k], icc.Single[k], 1e-10)
			assert.InDelta(t, c.Lo[k], ci.Lo, 1e-7)
			assert.InDelta(t, c.Hi[k], ci.Hi, 1e-7)
		}
	}
	a := LimitsOfAgreement(column(t, "peakflow.csv", "large_meter_l_min"), column(t, "peakflow.csv", "mini_meter_l_min"))
	assert.InDelta(t, r.Peakflow.Mean, a.Bias, 1e-10)
	assert.InDelta(t, r.Peakflow.SD, a.SD, 1e-10)
	assert.InDeltaSlice(t, r.Peakflow.Lower, []float64{a.Lower95.Lo, a.Lower95.Hi}, 1e-4)
	assert.InDeltaSlice(t, r.Peakflow.Upper, []float64{a.Upper95.Lo, a.Upper95.Hi}, 1e-4)
	assert.InDelta(t, 38.765/math.Sqrt(17)*2.1199, a.Bias95.Hi-a.Bias, 1e-2) // 2.1199: t(0.975, 16), any table
}

// The ICC(3,1) of judges who differ by constants only is 1, with an interval of no width.
func TestICC95AtItsEdges(t *testing.T) {
	w := SplitTwoWay([][]float64{{1, 2}, {3, 4}, {7, 8}})
	ci := w.ICC95()
	assert.Equal(t, Interval{1, 1}, ci[2])
	assert.Less(t, ci[1].Lo, w.ICC().Single[1])
	assert.Greater(t, ci[1].Hi, w.ICC().Single[1])
	assert.True(t, math.IsNaN(SplitTwoWay(nil).ICC95()[1].Lo))
	assert.True(t, math.IsNaN(SD95(1, 0).Lo))
	assert.True(t, math.IsNaN(LimitsOfAgreement([]float64{1}, []float64{2}).Upper95.Hi))
}

func TestAgreementAtItsEdges(t *testing.T) {
	for _, table := range [][][]float64{nil, {{1, 2}}, {{1}, {2}}, {{1, 2}, {3}}} {
		assert.True(t, math.IsNaN(SplitTwoWay(table).MSWithin) && math.IsNaN(SplitTwoWay(table).ICC().Single[0]))
	}
	assert.True(t, math.IsNaN(LimitsOfAgreement([]float64{1}, []float64{2}).SD))
	assert.True(t, math.IsNaN(LimitsOfAgreement([]float64{1, 2}, []float64{2}).Bias))
	sd, dof := PooledSD([][]float64{{1}, nil})
	assert.True(t, math.IsNaN(sd) && dof == 0)
	one := SplitTwoWay([][]float64{{1, 1}, {5, 5}})
	assert.Equal(t, [3]float64{1, 1, 1}, one.ICC().Single, "raters who always agree")
	// Nothing varies, whatever the rounding of means: thirds of 1 do not add up to 1.
	for _, v := range []float64{1, 0.1, 2.7} {
		for n := 2; n < 12; n++ {
			same := SplitTwoWay(slices.Repeat([][]float64{{v, v, v}}, n))
			assert.True(t, math.IsNaN(same.ICC().Single[0]) && math.IsNaN(same.ICC95()[1].Lo), "%v, %d rows", v, n)
		}
	}
}

// A constant difference between raters does not change the residual mean square.
// The one-way analysis has the same mean squares between and within subjects.
func TestTwoWayProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, k := rapid.IntRange(2, 6).Draw(t, "subjects"), rapid.IntRange(2, 5).Draw(t, "raters")
		table, shifted := make([][]float64, n), make([][]float64, n)
		for i := range table {
			table[i] = rapid.SliceOfN(rapid.Float64Range(-10, 10), k, k).Draw(t, "row")
			table[i][0] += float64(7 * i) // so that subjects differ
			shifted[i] = append([]float64{table[i][0] + 50}, table[i][1:]...)
		}
		a, b := SplitTwoWay(table), SplitTwoWay(shifted)
		assert.InDelta(t, a.MSResidual, b.MSResidual, 1e-8)
		one := SplitOneWay(table)
		assert.InDelta(t, one.MSWithin, a.MSWithin, 1e-9*(1+one.MSWithin))
		assert.InDelta(t, one.MSBetween, a.MSSubjects, 1e-9*(1+one.MSBetween))
	})
}

func TestHolmAgainstR(t *testing.T) {
	var r struct {
		Cases []struct{ P, Adjusted []float64 }
	}
	read(t, "holm.json", &r)
	require.Len(t, r.Cases, 7)
	for _, c := range r.Cases {
		assert.InDeltaSlice(t, c.Adjusted, Holm(c.P), 1e-14)
	}
}

// p-values and quantiles of Student's t, and the upper tail of chi-squared that packages
// take from gonum, against R's pt, qt and pchisq; see testdata/tails.R.
func TestTailsAgainstR(t *testing.T) {
	var r struct {
		Cases []struct{ T, Chi2, DOF, P, Q float64 }
	}
	read(t, "tails.json", &r)
	require.Len(t, r.Cases, 65)
	for _, c := range r.Cases {
		if c.Chi2 > 0 {
			assert.InEpsilon(t, c.P, distuv.ChiSquared{K: c.DOF}.Survival(c.Chi2), 1e-9, "%+v", c)
			continue
		}
		assert.InEpsilon(t, c.P, TwoSided(c.T, c.DOF), 1e-9, "%+v", c)
		assert.InEpsilon(t, c.Q, TQuantile(0.975, c.DOF), 1e-8, "%+v", c)
	}
}

func read(t *testing.T, name string, into any) {
	data, err := os.ReadFile("testdata/" + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, into))
}
