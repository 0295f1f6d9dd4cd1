package stats

import (
	"math"
	"slices"
)

// Holm returns p-values adjusted for multiple testing, in the order given (Holm,
// Scandinavian Journal of Statistics 6 (1979) 65-70). Rejecting every hypothesis
// whose adjusted value is at or below a level keeps the probability of one or
// more false rejections at or below that level. A NaN stays NaN and is not
// counted as a test.
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
