package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// mostRanked is the largest number of differences for which the distribution of the
// signed-rank statistic is computed exactly.
const mostRanked = 200

// Shift is an estimate of the centre of a symmetric distribution.
type Shift struct {
	Estimate float64  // NaN without a value
	CI95     Interval // NaN where fewer than 6 values cannot give 95 %
	Level    float64  // probability with which CI95 covers the centre, at least 0.95; NaN without CI95
	Exact    bool     // the distribution of the signed-rank statistic is exact
}

// HodgesLehmann returns the Hodges-Lehmann estimate of the centre of paired differences,
// the median of their Walsh averages (d_i + d_j)/2, i ≤ j, and the interval between the
// Walsh averages of ranks C and n(n+1)/2 + 1 − C, where C is the largest whole number with
// P(T < C) ≤ 0.025 for the signed-rank statistic T (Hollander, Wolfe and Chicken,
// Nonparametric Statistical Methods (3rd ed., 2014), sections 3.2 and 3.3). With ties the
// interval is conservative. Above 200 differences C is that of the normal distribution with
// the mean and the variance of T.
func HodgesLehmann(d []float64) Shift {
	n := len(d)
	none := math.NaN()
	s := Shift{Estimate: none, CI95: Interval{none, none}, Level: none, Exact: n <= mostRanked}
	if n == 0 {
		return s
	}
	walsh := make([]float64, 0, n*(n+1)/2)
	for i := range d {
		for j := range i + 1 {
			walsh = append(walsh, d[i]/2+d[j]/2)
		}
	}
	slices.Sort(walsh)
	m := len(walsh)
	s.Estimate = walsh[(m-1)/2]/2 + walsh[m/2]/2
	c, level := signedRankLimit(n)
	if c < 1 {
		return s
	}
	s.CI95, s.Level = Interval{walsh[c-1], walsh[m-c]}, level
	return s
}

// signedRankLimit returns the largest c with P(T < c) ≤ 0.025, 0 where there is none above
// 0, and 1 − 2·P(T < c), for the signed-rank statistic of n differences.
func signedRankLimit(n int) (c int, level float64) {
	if n > mostRanked {
		mean := float64(n) * float64(n+1) / 4
		sd := math.Sqrt(float64(n) * float64(n+1) * float64(2*n+1) / 24)
		c = int(mean + sd*distuv.UnitNormal.Quantile(0.025))
		return c, 1 - 2*distuv.UnitNormal.CDF((float64(c)-0.5-mean)/sd)
	}
	// ways[t] is the probability of T = t: each rank is in the sum or not.
	ways := make([]float64, n*(n+1)/2+1)
	ways[0] = 1
	for rank := 1; rank <= n; rank++ {
		for t := rank * (rank + 1) / 2; t >= 0; t-- {
			ways[t] /= 2
			if t >= rank {
				ways[t] += ways[t-rank] / 2
			}
		}
	}
	below := 0.0
	for below+ways[c] <= 0.025 {
		below += ways[c]
		c++
	}
	return c, 1 - 2*below
}
