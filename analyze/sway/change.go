package sway

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Ninths is the number of parts of equal length into which a hold is cut to find what
// changes within it.
const Ninths = 9

// Uncertainty of a change, for sway whose spectrum falls as 1/f^1.5 (see ChangeWithin).
// The tests derive both from the spectrum.
const (
	changeFactor = 1.806 // standard deviation of the change ÷ that of the steps between ninths
	changeDOF    = 6.9   // effective degrees of freedom of the latter (Satterthwaite)
)

// Change is the difference of a quantity between the first and the last third of a hold,
// in its unit. U is its standard uncertainty, with DOF degrees of freedom: the standard
// deviation of the difference for a quantity that sways about a constant mean.
type Change struct{ Value, U, DOF float64 }

// ChangeWithin returns the change within a hold: the mean over its last third less that
// over its first. ninths holds the means over nine parts of the hold of equal length.
//
// U is derived from the steps from each ninth to the next about their mean, so that a
// steady drift does not increase it. The steps contain sway with periods of about a ninth
// of the hold, whereas U depends on sway with periods of the whole hold. The ratio of the
// two follows from the spectrum, which is not known for a hold on pointe; a decrease as
// 1/f^1.5 is our assumption. It lies between flicker noise, 1/f, and a random walk, 1/f²,
// like the spectrum of the centre of pressure in quiet standing over long intervals,
// which resembles a negatively correlated random walk (Collins & De Luca, Upright,
// correlated random walks, American Institute of Physics, 1995). U is too large where the
// spectrum is flatter and too small where it is steeper. The mean over several holds does
// not need the assumption: its uncertainty follows from their scatter.
func ChangeWithin(ninths [Ninths]float64) Change {
	const third = Ninths / 3
	var steps [Ninths - 1]float64
	for i := range steps {
		steps[i] = ninths[i+1] - ninths[i]
	}
	return Change{
		Value: stat.Mean(ninths[Ninths-third:], nil) - stat.Mean(ninths[:third], nil),
		U:     changeFactor * stat.StdDev(steps[:], nil),
		DOF:   changeDOF,
	}
}

// InNinths returns the means of a series over the ninths of the time from its first
// sample to its last: values x at the times t, s, rising. It returns false where a ninth
// has no value, or one that is not finite.
func InNinths(t, x []float64) (means [Ninths]float64, ok bool) {
	if len(t) < Ninths || len(t) != len(x) {
		return means, false
	}
	from, to := t[0], t[len(t)-1]
	if !(to > from) {
		return means, false
	}
	var n [Ninths]int
	for i, v := range x {
		k := min(Ninths-1, int(float64(Ninths)*(t[i]-from)/(to-from)))
		means[k] += v
		n[k]++
	}
	for k := range means {
		means[k] /= float64(n[k])
		ok = !math.IsNaN(means[k]) && !math.IsInf(means[k], 0)
		if !ok {
			return means, false
		}
	}
	return means, true
}
