package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// BatchDOF returns the degrees of freedom of BatchMeanSE of n values: one less
// than there are batches. That is so for batches that are independent. Of a
// first-order autoregression that remembers a thirtieth, a tenth and a third of
// its length there are 8.3, 5.8 and 3.4, with a standard error that itself is
// 0.84, 0.58 and 0.33 of what it should be.
func BatchDOF(n int) float64 { return float64(max(0, min(batches, n)-1)) }

// batches is how many BatchMeanSE makes: few enough to be long, enough to know
// their spread (10 to 30 is the usual advice: Schmeiser, Operations Research 30
// (1982) 556-568, from memory).
const batches = 10

// BatchMeanSE returns the standard error of the mean of a series whose values
// depend on those before them. The series is cut into ten batches of equal
// length (to within one value), and the answer is the standard error of the
// mean of their means, for its degrees of freedom see BatchDOF (the method of
// batch means). It leans to the small side where a batch is not several times as long
// as the series remembers. Fewer than ten values are taken one by one; fewer
// than two give NaN.
func BatchMeanSE(x []float64) float64 {
	n := min(batches, len(x))
	if n < 2 {
		return math.NaN()
	}
	means := make([]float64, n)
	for i := range means {
		means[i] = stat.Mean(x[i*len(x)/n:(i+1)*len(x)/n], nil)
	}
	return stat.StdDev(means, nil) / math.Sqrt(float64(n))
}
