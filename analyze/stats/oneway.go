package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// OneWay is a one-way analysis of variance with random effects:
// value = mean + effect of its group + residual, both effects random.
type OneWay struct {
	Groups                int
	PerGroup              float64 // values a group; with unequal groups (N − Σn²/N)/(Groups − 1)
	MSBetween, MSWithin   float64 // mean squares, in the square of the values' unit
	DOFBetween, DOFWithin float64
}

// SplitOneWay does the analysis of variance of groups drawn at random (Searle,
// Casella & McCulloch, Variance Components (1992); compared with scipy's numbers
// in testdata/oneway.json). Empty groups do not count. Mean squares are NaN
// with fewer than two groups or no group of two values.
func SplitOneWay(groups [][]float64) OneWay {
	var o OneWay
	var n, squares, sum float64
	for _, g := range groups {
		if len(g) > 0 {
			o.Groups++
			n += float64(len(g))
			squares += float64(len(g) * len(g))
			sum += float64(len(g)) * stat.Mean(g, nil)
		}
	}
	o.DOFBetween, o.DOFWithin = float64(o.Groups-1), n-float64(o.Groups)
	if o.Groups < 2 || o.DOFWithin < 1 {
		o.MSBetween, o.MSWithin, o.PerGroup = math.NaN(), math.NaN(), math.NaN()
		return o
	}
	o.PerGroup = (n - squares/n) / o.DOFBetween
	mean := sum / n
	for _, g := range groups {
		if len(g) == 0 {
			continue
		}
		m := stat.Mean(g, nil)
		o.MSBetween += float64(len(g)) * (m - mean) * (m - mean) / o.DOFBetween
		for _, v := range g {
			o.MSWithin += (v - m) * (v - m) / o.DOFWithin
		}
	}
	return o
}

// Pool combines two independent analyses of the same groups with equal variances,
// such as those of two axes: mean squares are averaged with their degrees of
// freedom as weights, and degrees of freedom are added.
func (o OneWay) Pool(p OneWay) OneWay {
	b, w := o.DOFBetween+p.DOFBetween, o.DOFWithin+p.DOFWithin
	o.MSBetween = (o.MSBetween*o.DOFBetween + p.MSBetween*p.DOFBetween) / b
	o.MSWithin = (o.MSWithin*o.DOFWithin + p.MSWithin*p.DOFWithin) / w
	o.DOFBetween, o.DOFWithin = b, w
	return o
}

// Between returns the variance between groups, (MSBetween − MSWithin)/PerGroup.
// It is negative where the groups differ by less than their scatter within
// predicts; BetweenSD95 then gives an interval that begins at 0.
func (o OneWay) Between() float64 { return (o.MSBetween - o.MSWithin) / o.PerGroup }

// BetweenDOF returns the effective degrees of freedom of Between (Satterthwaite,
// Biometrics Bulletin 2 (1946) 110-114), 0 where Between is not above 0. For a
// difference of mean squares the approximation is good where MSBetween is several
// times MSWithin.
func (o OneWay) BetweenDOF() float64 {
	d := o.MSBetween - o.MSWithin
	if math.IsNaN(d) {
		return math.NaN()
	}
	if d <= 0 {
		return 0
	}
	return d * d / (o.MSBetween*o.MSBetween/o.DOFBetween + o.MSWithin*o.MSWithin/o.DOFWithin)
}

// BetweenSD95 returns a 95 % interval of the standard deviation between groups,
// from 0 where the lower limit of the variance is negative: the modified
// large-sample interval of Ting, Burdick, Graybill, Jeyaratnam & Lu, Journal of
// Statistical Computation and Simulation 35 (1990) 135-143; the tests hold it to
// its coverage. Without scatter within groups it is the chi-square interval.
func (o OneWay) BetweenSD95() Interval {
	if math.IsNaN(o.MSBetween) || math.IsNaN(o.MSWithin) {
		return Interval{math.NaN(), math.NaN()}
	}
	const tail = 0.025
	g1, h1 := meanSquareLimits(o.DOFBetween, tail)
	g2, h2 := meanSquareLimits(o.DOFWithin, tail)
	f := distuv.F{D1: o.DOFBetween, D2: o.DOFWithin}
	hi, lo := f.Quantile(1-tail), f.Quantile(tail)
	g12 := ((hi-1)*(hi-1) - g1*g1*hi*hi - h2*h2) / hi
	h12 := ((1-lo)*(1-lo) - h1*h1*lo*lo - g2*g2) / lo
	b, w := o.MSBetween, o.MSWithin
	down := g1*g1*b*b + h2*h2*w*w + g12*b*w
	up := h1*h1*b*b + g2*g2*w*w + h12*b*w
	sd := func(v float64) float64 { return math.Sqrt(max(0, v/o.PerGroup)) }
	return Interval{sd(b - w - math.Sqrt(max(0, down))), sd(b - w + math.Sqrt(max(0, up)))}
}

// meanSquareLimits returns the fractions of itself by which a mean square with dof
// degrees of freedom may be too large and too small, each with probability tail.
func meanSquareLimits(dof, tail float64) (over, under float64) {
	chi2 := distuv.ChiSquared{K: dof}
	return 1 - dof/chi2.Quantile(1-tail), dof/chi2.Quantile(tail) - 1
}
