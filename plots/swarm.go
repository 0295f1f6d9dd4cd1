package plots

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// swarm spreads marks that would coincide in a row: it returns how far above the middle of
// the row each is drawn, in points, at most tall/2. Marks keep their value, at. They are
// placed in order of value, and of recording where values are equal; each goes as near to
// the middle as it can without touching those placed before, above the middle rather than
// below. A mark touches another within a distance of size. Where the row is too low, all
// distances from the middle shrink by one factor, and marks overlap. The same values give
// the same picture. What is not a number stays in the middle.
func swarm(at []vg.Length, size, tall vg.Length) []vg.Length {
	order := make([]int, 0, len(at))
	for i, x := range at {
		if !math.IsNaN(float64(x)) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(at[i], at[j]) })
	up := make([]vg.Length, len(at))
	most := vg.Length(0)
	for k, i := range order {
		// Beside each mark within reach there are two heights at which this one touches it.
		heights := []vg.Length{0}
		var near []int
		for _, j := range order[:k] {
			if d := at[i] - at[j]; d < size {
				near = append(near, j)
				reach := vg.Length(math.Sqrt(float64(size*size - d*d)))
				heights = append(heights, up[j]+reach, up[j]-reach)
			}
		}
		slices.SortStableFunc(heights, func(a, b vg.Length) int {
			return cmp.Or(cmp.Compare(math.Abs(float64(a)), math.Abs(float64(b))), cmp.Compare(b, a))
		})
		for _, h := range heights {
			free := true
			for _, j := range near {
				d, e := at[i]-at[j], h-up[j]
				free = free && d*d+e*e >= size*size*(1-1e-9)
			}
			if free {
				up[i] = h
				break
			}
		}
		most = max(most, vg.Length(math.Abs(float64(up[i]))))
	}
	if most > tall/2 {
		for i := range up {
			up[i] *= tall / 2 / most
		}
	}
	return up
}
