package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Power returns the probability that a two-sided test at a level between 0 and 1, such as
// 0.05, detects a true difference of delta standard uncertainties from 0, where the uncertainty is estimated with dof
// degrees of freedom: the probability of the non-central t
// distribution beyond ±t(1 − level/2, dof), defined as in the documentation of
// scipy.stats.nct, against which the tests hold it. With 0 degrees of freedom
// nothing is ever called; NaN gives NaN.
func Power(delta, dof, level float64) float64 {
	if math.IsNaN(delta) || !(dof >= 0) || !(level > 0 && level < 1) {
		return math.NaN()
	}
	if dof == 0 {
		return 0
	}
	t := TQuantile(1-level/2, dof)
	// Given that the estimated uncertainty is s times the true one, the estimate is
	// normal, and the test rejects where it lies beyond ±t·s.
	rejects := func(s float64) float64 { return upperTail(t*s-delta) + upperTail(t*s+delta) }
	if dof > 1e6 {
		return rejects(1)
	}
	return min(1, overEstimates(dof, rejects))
}

// overEstimates returns the mean of f(s) where s is the ratio of an estimated standard
// uncertainty with dof degrees of freedom to the true one, √(χ²/dof).
func overEstimates(dof float64, f func(s float64) float64) float64 {
	chi2 := distuv.ChiSquared{K: dof}
	// The integral runs over log s, where the density is smooth for any degrees of freedom.
	lo, hi := chiSquaredRange(dof)
	lo, hi = math.Log(lo/dof)/2, math.Log(hi/dof)/2
	// Panels are narrow enough for a function that falls from 1 to 0 within a tenth.
	panels := math.Ceil(max(8, (hi-lo)/0.5))
	width, sum := (hi-lo)/panels, 0.0
	for i := range int(panels) {
		for k, x := range panelRule.x {
			s := math.Exp(lo + (float64(i)+x)*width)
			sum += panelRule.weight[k] * width * f(s) * 2 * dof * s * s * chi2.Prob(dof*s*s)
		}
	}
	return sum
}

// panelRule has the points of one panel of overEstimates.
var panelRule = gaussLegendre(24)

// upperTail returns the probability that a standard normal variable exceeds x.
func upperTail(x float64) float64 { return math.Erfc(x/math.Sqrt2) / 2 }

// nonCentralTQuantile returns the p-quantile of the non-central t distribution with dof
// degrees of freedom, 1 or more, and non-centrality delta, as in the documentation of
// scipy.stats.nct.
func nonCentralTQuantile(p, dof, delta float64) float64 {
	below := func(t float64) float64 {
		return overEstimates(dof, func(s float64) float64 { return upperTail(delta - t*s) })
	}
	lo, hi := delta-1, delta+1
	for step := 1.0; below(lo) > p; step *= 2 {
		lo -= step
	}
	for step := 1.0; below(hi) < p; step *= 2 {
		hi += step
	}
	for hi-lo > 1e-10*(1+math.Abs(lo)+math.Abs(hi)) {
		if mid := (lo + hi) / 2; below(mid) < p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// chiSquaredRange returns limits outside which a chi-squared variable with k
// degrees of freedom lies with a probability below 1e-12 on either side. They come
// from the nearly normal cube root (Wilson & Hilferty, PNAS 17 (1931) 684-688);
// for few degrees of freedom the lower one comes from (x/2)^(k/2)/Γ(k/2+1), an
// upper bound of the distribution function.
func chiSquaredRange(k float64) (lo, hi float64) {
	const far = 8 // standard deviations
	cube := func(z float64) float64 { return k * math.Pow(1-2/(9*k)+z*math.Sqrt(2/(9*k)), 3) }
	if k > 50 {
		return cube(-far), cube(far)
	}
	logGamma, _ := math.Lgamma(k/2 + 1)
	return 2 * math.Exp((math.Log(1e-12)+logGamma)*2/k), cube(far)
}

// Detectable returns the true difference from 0, in standard uncertainties, that a
// two-sided test at a level rejects with probability power, where the uncertainty is
// estimated with dof degrees of freedom: the inverse of [Power]. power lies between
// level and 1, both excluded. The result is +Inf for 0 degrees of freedom and NaN for
// arguments outside their range.
func Detectable(power, dof, level float64) float64 {
	switch {
	case !(level > 0 && power > level && power < 1) || !(dof >= 0):
		return math.NaN()
	case dof == 0:
		return math.Inf(1)
	}
	lo, hi := 0.0, 1.0
	for Power(hi, dof, level) < power {
		lo, hi = hi, 2*hi
		if hi > 1e6 {
			return math.Inf(1) // below a hundredth of a degree of freedom
		}
	}
	for hi-lo > 1e-10*hi {
		if mid := (lo + hi) / 2; Power(mid, dof, level) < power {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
