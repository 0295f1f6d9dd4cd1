package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// LimitsOfRepeated returns bias and 95 % limits of agreement of one difference between two
// methods, where the differences come in groups and what is measured changes within a group
// (Bland & Altman, Journal of Biopharmaceutical Statistics 17 (2007) 571-582, which corrects
// section 5.3 of their paper of 1999). Groups count alike, whatever their size: bias is the
// mean of the groups' means. The variance of one difference is
//
//	S² + (1 − 1/m)·MSW
//
// with the variance S² of the groups' means, the harmonic mean m of the groups' sizes and
// the mean square MSW within groups; it contains what differs between groups. The intervals
// of the limits recover the limits of both variances (Zou, Statistical Methods in Medical
// Research 22 (2013) 630-642); that of the bias, which is part of them, is by Student's t,
// where Zou takes the normal distribution.
//
// dofWithin is the number of degrees of freedom of MSW: 0 for the number of differences less
// that of the groups, fewer where the differences within a group are correlated. N is the
// number of differences. Empty groups do not count; everything but N and Bias is NaN where
// fewer than two groups are left or no group has two differences.
func LimitsOfRepeated(groups [][]float64, dofWithin float64) Agreement {
	nan := math.NaN()
	undefined := Interval{nan, nan}
	var means []float64
	var n int
	var inverse float64 // sum of the inverse sizes
	for _, g := range groups {
		if len(g) > 0 {
			means = append(means, stat.Mean(g, nil))
			n += len(g)
			inverse += 1 / float64(len(g))
		}
	}
	bias, sd := stat.MeanStdDev(means, nil)
	one := SplitOneWay(groups)
	if math.IsNaN(one.MSWithin) {
		return Agreement{n, bias, nan, undefined, undefined, undefined, undefined}
	}
	if dofWithin == 0 {
		dofWithin = one.DOFWithin
	}
	count := float64(len(means))
	between, within := sd*sd, (1-inverse/count)*one.MSWithin
	ofBetween, ofWithin := SD95(sd, count-1), SD95(math.Sqrt(within), dofWithin)
	total := between + within
	least := total - math.Hypot(between-ofBetween.Lo*ofBetween.Lo, within-ofWithin.Lo*ofWithin.Lo)
	most := total + math.Hypot(ofBetween.Hi*ofBetween.Hi-between, ofWithin.Hi*ofWithin.Hi-within)
	a := Agreement{N: n, Bias: bias, SD: math.Sqrt(total), Bias95: Interval95(bias, sd/math.Sqrt(count), count-1)}
	far, half := agreementZ*a.SD, a.Bias95.Hi-bias
	inner := far - math.Hypot(half, far-agreementZ*math.Sqrt(max(0, least)))
	outer := far + math.Hypot(half, agreementZ*math.Sqrt(most)-far)
	a.Limits = Interval{bias - far, bias + far}
	a.Lower95, a.Upper95 = Interval{bias - outer, bias - inner}, Interval{bias + inner, bias + outer}
	return a
}
