package plan

import "gonum.org/v1/gonum/stat/distuv"

// CoverProbability returns the probability, 0 to 1, that a strip covers a platform in one
// mounting. marginMM are the margins by which the strip reaches beyond the platform in
// the planned seat, mm, as returned by device.Strip.Margins, and sdMM is the standard
// deviation of one mounting along each axis, mm.
//
// When the strip is shifted by x along an axis, its margin is x larger at the upper end
// and x smaller at the lower end, so that it covers the platform where −upper ≤ x ≤
// lower. Shifts along the axes are assumed to be independent and normal with mean 0 and
// known standard deviation: the probability is the product over the axes of Φ(lower/sd) −
// Φ(−upper/sd), where Φ is the standard normal distribution function. The scatter of the
// rotation is neglected.
func CoverProbability(marginMM [2][2]float64, sdMM float64) float64 {
	return coverAlong(marginMM[0], sdMM) * coverAlong(marginMM[1], sdMM)
}

// coverAlong is CoverProbability along one axis.
func coverAlong(marginMM [2]float64, sdMM float64) float64 {
	lower, upper := marginMM[0], marginMM[1]
	switch {
	case lower+upper < 0: // the platform is longer than the strip
		return 0
	case sdMM == 0 && min(lower, upper) < 0:
		return 0
	case sdMM == 0:
		return 1
	}
	return distuv.UnitNormal.CDF(lower/sdMM) - distuv.UnitNormal.CDF(-upper/sdMM)
}
