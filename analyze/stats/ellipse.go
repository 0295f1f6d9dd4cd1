package stats

import "math"

// Ellipse is an ellipse centred on the mean of the points it was computed from.
type Ellipse struct {
	Area                 float64 // in the square of the points' unit
	SemiMajor, SemiMinor float64
	AngleRad             float64 // of the major axis, from +x towards +y, (−π/2, π/2]
}

// PredictionEllipse95 returns the ellipse that holds the next point of a
// bivariate normal with 95 % probability, from the sample variances and
// covariance (divisor n − 1) of n points. Its squared radius in units of
// standard deviation is 2(n²−1)/(n(n−2))·F(0.95; 2, n−2), its area π times that
// times √det (Schubert & Kirchner, Gait & Posture 39 (2014) 518-522; the
// prediction region of Chew, Journal of the American Statistical Association 61
// (1966) 605-617). Everything is NaN for fewer than
// three points or where no such variances exist; points on a line give area 0.
func PredictionEllipse95(sxx, syy, sxy float64, n int) Ellipse {
	nan := Ellipse{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	if n < 3 || !(sxx >= 0) || !(syy >= 0) || math.IsNaN(sxy) || math.IsInf(sxx+syy+sxy, 0) {
		return nan
	}
	m := float64(n)
	radius2 := 2 * (m*m - 1) / (m * (m - 2)) * f95(m-2)
	half, radius := (sxx+syy)/2, math.Hypot((sxx-syy)/2, sxy)
	major, minor := half+radius, max(0, half-radius) // eigenvalues; rounding may leave the smaller just below 0
	det := max(0, sxx*syy-sxy*sxy)
	return Ellipse{
		Area:      math.Pi * radius2 * math.Sqrt(det),
		SemiMajor: math.Sqrt(radius2 * major),
		SemiMinor: math.Sqrt(radius2 * minor),
		AngleRad:  math.Atan2(2*sxy, sxx-syy) / 2,
	}
}

// MeanEllipse95 returns the 95 % region of a mean place whose errors along the two axes are
// uncorrelated, with standard uncertainties u and dof degrees of freedom: the ellipse,
// along the axes, that holds 95 % of the bivariate t distribution with the scales u. Half
// of its sum of squares (x/u)² + (y/u)² follows F with 2 and dof degrees of freedom, so its
// squared radius in units of u is 2·F(0.95; 2, dof) (Kotz & Nadarajah, Multivariate t
// Distributions and Their Applications (2004), chapter 1). It is the distribution of
// [MassInsideT]: a convex polygon that contains the ellipse holds at least 95 % of it. With
// infinite dof it is the normal distribution. Everything is NaN for dof that is not above 0
// and for u that is negative or not finite.
func MeanEllipse95(u [2]float64, dof float64) Ellipse {
	if !(dof > 0) || !(u[0] >= 0) || !(u[1] >= 0) || math.IsInf(u[0]+u[1], 0) {
		return Ellipse{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	}
	radius := math.Sqrt(2 * f95(dof))
	e := Ellipse{Area: math.Pi * radius * radius * u[0] * u[1], SemiMajor: radius * u[0], SemiMinor: radius * u[1]}
	if u[1] > u[0] {
		e.SemiMajor, e.SemiMinor, e.AngleRad = e.SemiMinor, e.SemiMajor, math.Pi/2
	}
	return e
}

// f95 returns the 95 % quantile of the F distribution with 2 and m degrees of freedom. The
// p-quantile has the closed form m/2·((1−p)^(−2/m) − 1), which is −ln(1−p) for infinite m.
func f95(m float64) float64 {
	logTail := math.Log1p(-0.95)
	if math.IsInf(m, 1) {
		return -logTail
	}
	return m / 2 * math.Expm1(-2/m*logTail)
}
