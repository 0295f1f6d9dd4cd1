package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// TwoWay is a two-way analysis of variance without replication: a full table
// with one row a subject and one column a rater or occasion. MSWithin pools
// raters and residual: it is the mean square within subjects.
type TwoWay struct {
	Subjects, Raters                           float64 // numbers of rows and of columns
	MSSubjects, MSRaters, MSResidual, MSWithin float64 // mean squares, in the square of the values' unit
}

// SplitTwoWay returns the two-way analysis of variance of a table,
// table[subject][rater] (Shrout & Fleiss, Psychological Bulletin 86 (1979)
// 420-428). Everything is NaN with fewer than two rows or columns, and where
// rows differ in length.
func SplitTwoWay(table [][]float64) TwoWay {
	nan := math.NaN()
	undefined := TwoWay{nan, nan, nan, nan, nan, nan}
	if len(table) < 2 || len(table[0]) < 2 {
		return undefined
	}
	n, k := float64(len(table)), float64(len(table[0]))
	columns := make([]float64, len(table[0]))
	// Values are taken from the first one on, so that equal values have exactly no scatter,
	// which the rounding of their mean would give them.
	origin, mean := table[0][0], 0.0
	for _, row := range table {
		if len(row) != len(columns) {
			return undefined
		}
		for j, v := range row {
			columns[j] += (v - origin) / n
			mean += (v - origin) / (n * k)
		}
	}
	var rows, raters, within, residual float64
	for _, row := range table {
		d, m := aboutMean(row)
		m -= origin
		rows += k * (m - mean) * (m - mean)
		for j, v := range d {
			within += v * v
			r := v - columns[j] + mean
			residual += r * r
		}
	}
	for _, c := range columns {
		raters += n * (c - mean) * (c - mean)
	}
	return TwoWay{
		Subjects: n, Raters: k,
		MSSubjects: rows / (n - 1), MSRaters: raters / (k - 1),
		MSResidual: residual / ((n - 1) * (k - 1)), MSWithin: within / (n * (k - 1)),
	}
}

// ICC holds intraclass correlations, the share of the variance that lies between
// subjects, for three designs: every subject has its own raters (1), the raters
// are a random sample (2), the raters are the only ones of interest (3).
type ICC struct {
	Single [3]float64 // of one measurement: ICC(1,1), ICC(2,1), ICC(3,1)
	Mean   [3]float64 // of the mean over all raters: ICC(1,k), ICC(2,k), ICC(3,k)
}

// ICC returns the six intraclass correlations of Shrout & Fleiss, Psychological
// Bulletin 86 (1979) 420-428. They can be negative, and are NaN where nothing varies.
func (w TwoWay) ICC() ICC {
	n, k, b, e := w.Subjects, w.Raters, w.MSSubjects, w.MSResidual
	raters := k * (w.MSRaters - e) / n
	return ICC{
		Single: [3]float64{
			(b - w.MSWithin) / (b + (k-1)*w.MSWithin),
			(b - e) / (b + (k-1)*e + raters),
			(b - e) / (b + (k-1)*e),
		},
		Mean: [3]float64{(b - w.MSWithin) / b, (b - e) / (b + raters/k), (b - e) / b},
	}
}

// ICC95 returns 95 % intervals of the correlations of one measurement, ICC(1,1), ICC(2,1)
// and ICC(3,1). Those of (1,1) and (3,1) are exact for normal effects; that of (2,1) is an
// approximation after Satterthwaite (Shrout & Fleiss, Psychological Bulletin 86 (1979)
// 420-428; compared with the package psych of R in testdata/icc.json). They are NaN where
// the mean squares are, and where nothing varies.
func (w TwoWay) ICC95() [3]Interval {
	n, k, b, e := w.Subjects, w.Raters, w.MSSubjects, w.MSResidual
	quantile := func(d1, d2 float64) float64 {
		if !(d1 > 0 && d2 > 0) {
			return math.NaN()
		}
		return distuv.F{D1: d1, D2: d2}.Quantile(0.975)
	}
	ofRatio := func(f, dof float64) Interval {
		of := func(f float64) float64 {
			if math.IsInf(f, 1) {
				return 1
			}
			return (f - 1) / (f + k - 1)
		}
		return Interval{of(f / quantile(n-1, dof)), of(f * quantile(dof, n-1))}
	}
	residual := (n - 1) * (k - 1)
	out := [3]Interval{0: ofRatio(b/w.MSWithin, n*(k-1)), 2: ofRatio(b/e, residual)}

	icc := w.ICC().Single[1]
	f := w.MSRaters / e
	others := n*(1+(k-1)*icc) - k*icc
	dof := residual * math.Pow(k*icc*f+others, 2) / ((n-1)*math.Pow(k*icc*f, 2) + others*others)
	if e == 0 { // its limit
		dof = k - 1
	}
	over, under := quantile(n-1, dof), quantile(dof, n-1)
	rest := k*w.MSRaters + (k*n-k-n)*e
	out[1] = Interval{n * (b - over*e) / (over*rest + n*b), n * (under*b - e) / (rest + n*under*b)}
	return out
}

// Agreement describes the differences between two methods that measured the
// same quantity, in the unit of the values.
type Agreement struct {
	N      int
	Bias   float64  // mean of a − b
	SD     float64  // standard deviation of the differences
	Limits Interval // Bias ± 1.96·SD: holds 95 % of the differences if they are normal

	Bias95           Interval // 95 % interval of Bias
	Lower95, Upper95 Interval // 95 % intervals of the limits, each by itself
}

// agreementZ is the number of standard deviations from bias to limit of agreement.
const agreementZ = 1.96

// LimitsOfAgreement returns bias and 95 % limits of agreement of the pairs a[i],
// b[i] (Bland & Altman, Lancet i (1986) 307-310, who round 1.96 to 2). The intervals of
// the limits are those of quantiles of a normal distribution, from the non-central t
// distribution (Meeker, Hahn & Escobar, Statistical Intervals (2nd ed., 2017), section 4.4);
// the paper's own are approximations to them for many pairs. SD, Limits and the intervals are
// NaN for fewer than two pairs; everything is NaN where lengths differ.
func LimitsOfAgreement(a, b []float64) Agreement {
	nan := math.NaN()
	undefined := Interval{nan, nan}
	if len(a) != len(b) {
		return Agreement{len(a), nan, nan, undefined, undefined, undefined, undefined}
	}
	d := make([]float64, len(a))
	for i := range a {
		d[i] = a[i] - b[i]
	}
	mean, sd := stat.MeanStdDev(d, nil)
	if len(d) < 2 {
		return Agreement{len(d), mean, nan, undefined, undefined, undefined, undefined}
	}
	n, dof := float64(len(d)), float64(len(d)-1)
	far := agreementZ * math.Sqrt(n)
	inner := nonCentralTQuantile(0.025, dof, far) / math.Sqrt(n) * sd
	outer := nonCentralTQuantile(0.975, dof, far) / math.Sqrt(n) * sd
	return Agreement{
		N: len(d), Bias: mean, SD: sd, Limits: Interval{mean - agreementZ*sd, mean + agreementZ*sd},
		Bias95:  Interval95(mean, sd/math.Sqrt(n), dof),
		Lower95: Interval{mean - outer, mean - inner}, Upper95: Interval{mean + inner, mean + outer},
	}
}

// PooledSD returns the standard deviation of values within groups,
// √(Σ(x − mean of its group)² ÷ dof), and its degrees of freedom, the number of
// values less the number of groups. It returns NaN and 0 where no group has two
// values.
func PooledSD(groups [][]float64) (sd, dof float64) {
	squares := 0.0
	for _, g := range groups {
		if len(g) < 2 {
			continue
		}
		mean := stat.Mean(g, nil)
		for _, v := range g {
			squares += (v - mean) * (v - mean)
		}
		dof += float64(len(g) - 1)
	}
	if dof == 0 {
		return math.NaN(), 0
	}
	return math.Sqrt(squares / dof), dof
}

// SD95 returns the 95 % interval of a standard deviation that was estimated as sd with
// dof degrees of freedom, from the chi-squared distribution. It is NaN for dof below 1.
func SD95(sd, dof float64) Interval {
	if !(dof >= 1) {
		return Interval{math.NaN(), math.NaN()}
	}
	chi2 := distuv.ChiSquared{K: dof}
	return Interval{sd * math.Sqrt(dof/chi2.Quantile(0.975)), sd * math.Sqrt(dof/chi2.Quantile(0.025))}
}
