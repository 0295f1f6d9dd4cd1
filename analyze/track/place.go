package track

import (
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device/platform"
)

// Judge returns the verdict on the centre of pressure of one foot in one visit, given the
// points of over and of medial, against the kern of the platform, mm. The results are
// those of verdict.Judge, with the smaller of the two degrees of freedom, as in
// comparisons of shoes. The verdict is empty where there is no kern, or where one of the
// uncertainties is not known.
func Judge(kern platform.Polygon, over, medial Point) (v measure.Verdict, inside float64, misses []measure.Direction) {
	if len(kern) == 0 || over.OfMean == nil || medial.OfMean == nil {
		return "", 0, nil
	}
	dof := math.Min(over.OfMean.dof(), medial.OfMean.dof())
	return verdict.Judge(kern, platform.Point{medial.Mean, over.Mean}, platform.Point{medial.OfMean.U, over.OfMean.U}, dof)
}

// dof returns the degrees of freedom of u; without them they are unlimited.
func (u *Uncertainty) dof() float64 {
	if u.DOF == 0 {
		return math.Inf(1)
	}
	return float64(u.DOF)
}
