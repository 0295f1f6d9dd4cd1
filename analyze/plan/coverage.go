package plan

import "gonum.org/v1/gonum/stat/distuv"

// CoverProbability returns the probability, 0 to 1, that one mounting of a strip
// covers a platform, from the margins by which the strip reaches beyond it where it
// lies as planned, mm, as device.Strip.Margins has them, and the standard deviation
// of one mounting along each axis, mm.
//
// A strip that lies x further along an axis has a margin that is x larger at the
// upper end and x smaller at the lower end, so that it covers the platform where
// −upper ≤ x ≤ lower. Shifts along the axes are taken as independent and normal about
// the planned place with a known standard deviation: the probability is the product
// over the axes of Φ(lower/sd) − Φ(−upper/sd), Φ being the standard normal
// distribution. How the rotation of mountings scatters is left out.
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
