package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// BatchDOF returns the degrees of freedom of BatchMeanSE of n values: the number
// of batches less one. The value holds for independent batches. For a first-order
// autoregression whose correlation time is a thirtieth, a tenth and a third of
// the series there are 8.3, 5.8 and 3.4 degrees of freedom, and BatchMeanSE
// returns 0.84, 0.58 and 0.33 of the true standard error.
func BatchDOF(n int) float64 { return float64(max(0, min(batches, n)-1)) }

// batches is the number of batches of BatchMeanSE: few, so that batches are long, and
// enough to estimate their standard deviation (Schmeiser, Operations Research 30 (1982) 556-568: from eight
// to ten batches on, more make little difference).
const batches = 10

// BatchMeanSE returns the standard error of the mean of an autocorrelated series
// by the method of batch means (Schmeiser, Operations Research 30 (1982)
// 556-568). The series is cut into ten batches of equal length, to within one
// value; the result is the standard error of the mean of the batch means, with
// BatchDOF degrees of freedom. It is too small unless a batch is several times as
// long as the correlation time of the series. With fewer than ten values every
// value is a batch; fewer than two give NaN.
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
