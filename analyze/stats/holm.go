package stats

import (
	"math"
	"slices"
)

// Holm returns the p-values adjusted for how many there are, in the order
// given, so that those at or below a level can be called without more than
// that chance of a single false call among them (Holm, Scandinavian Journal of
// Statistics 6 (1979) 65-70). NaN stays NaN and does not count as one of them.
func Holm(p []float64) []float64 {
	adjusted := slices.Repeat([]float64{math.NaN()}, len(p))
	order := make([]int, 0, len(p))
	for i, x := range p {
		if !math.IsNaN(x) {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(i, j int) int {
		switch {
		case p[i] < p[j]:
			return -1
		case p[i] > p[j]:
			return 1
		}
		return 0
	})
	largest := 0.0
	for rank, i := range order {
		largest = max(largest, min(1, float64(len(order)-rank)*p[i]))
		adjusted[i] = largest
	}
	return adjusted
}
