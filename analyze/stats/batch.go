package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// batches is how many BatchMeanSE makes: few enough to be long, enough to know
// their spread (10 to 30 is the usual advice: Schmeiser, Operations Research 30
// (1982) 556-568, from memory).
const batches = 10

// BatchMeanSE returns the standard error of the mean of a series whose values
// depend on those before them. The series is cut into ten batches of equal
// length (to within one value), and the answer is the standard error of the
// mean of their means, with nine degrees of freedom (the method of batch
// means). It leans to the small side where a batch is not several times as long
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
