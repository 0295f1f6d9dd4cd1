package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// MassInsideT returns the probability that a bivariate t distribution with dof degrees of
// freedom, uncorrelated, with the given mean and the scales sd along the two axes, assigns
// to a convex polygon (Kotz & Nadarajah, Multivariate t Distributions and Their
// Applications (2004), chapter 1): that of mean + sd·z·√(dof/χ²), z standard bivariate
// normal and χ² independent of it with dof degrees of freedom. It is MassInside averaged
// over χ²; the error is below 1e-4 from one degree of freedom on. Arguments are those of
// [MassInside]; with infinite dof the result is the same. With 0 degrees of freedom and a
// scale above 0 it is 0, since nothing is known of the place; it is NaN for negative dof.
func MassInsideT[P ~[2]float64](convex []P, mean P, sd [2]float64, dof float64) float64 {
	switch {
	case !(dof >= 0):
		return math.NaN()
	case dof > 1e6, sd == [2]float64{}:
		return MassInside(convex, mean, sd)
	case dof == 0:
		return 0
	}
	chi2 := distuv.ChiSquared{K: dof}
	sum := 0.0
	for i, p := range unitRule.x {
		scale := math.Sqrt(dof / chi2.Quantile(p))
		sum += unitRule.weight[i] * MassInside(convex, mean, [2]float64{sd[0] * scale, sd[1] * scale})
	}
	return min(1, sum)
}
