package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
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
	mean := 0.0
	for _, row := range table {
		if len(row) != len(columns) {
			return undefined
		}
		for j, v := range row {
			columns[j] += v / n
			mean += v / (n * k)
		}
	}
	var rows, raters, within, residual float64
	for _, row := range table {
		m := stat.Mean(row, nil)
		rows += k * (m - mean) * (m - mean)
		for j, v := range row {
			within += (v - m) * (v - m)
			r := v - m - columns[j] + mean
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

// SEM returns the standard error of measurement, √MSWithin: the standard
// deviation of one measurement about its subject's own mean. Systematic
// differences between raters or occasions are part of it.
func (w TwoWay) SEM() float64 { return math.Sqrt(w.MSWithin) }

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

// Agreement describes the differences between two methods that measured the
// same quantity, in the unit of the values.
type Agreement struct {
	N      int
	Bias   float64  // mean of a − b
	SD     float64  // standard deviation of the differences
	Limits Interval // Bias ± 1.96·SD: holds 95 % of the differences if they are normal
}

// LimitsOfAgreement returns bias and 95 % limits of agreement of the pairs a[i],
// b[i] (Bland & Altman, Lancet i (1986) 307-310, who round 1.96 to 2). SD and
// Limits are NaN for fewer than two pairs; all three are NaN where lengths differ.
func LimitsOfAgreement(a, b []float64) Agreement {
	if len(a) != len(b) {
		nan := math.NaN()
		return Agreement{N: len(a), Bias: nan, SD: nan, Limits: Interval{nan, nan}}
	}
	d := make([]float64, len(a))
	for i := range a {
		d[i] = a[i] - b[i]
	}
	mean, sd := stat.MeanStdDev(d, nil)
	return Agreement{N: len(d), Bias: mean, SD: sd, Limits: Interval{mean - 1.96*sd, mean + 1.96*sd}}
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
