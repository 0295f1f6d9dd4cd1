package stats

import "math"

// Line is the fitted line y = Intercept + Slope·x with its uncertainties.
type Line struct {
	Intercept, Slope   float64
	UIntercept, USlope float64 // their standard uncertainties
	Correlation        float64 // between their errors, −1 to 1
	ResidualSD         float64 // standard deviation of y about the line
	DOF                float64 // of ResidualSD and both uncertainties
}

// FitLine fits a line to the points x[i], y[i] by unweighted least squares: x is
// known exactly, and every y has the same variance (JCGM 100:2008, H.3.2,
// formulas H.13). Two points leave no degrees of freedom: the line is defined and
// its uncertainties are NaN. All fields are NaN for fewer points, where all x are
// equal, and where lengths differ.
func FitLine(x, y []float64) Line {
	nan := math.NaN()
	l := Line{nan, nan, nan, nan, nan, nan, nan}
	if len(x) != len(y) || len(x) < 2 {
		return l
	}
	n := float64(len(x))
	dx, mx := aboutMean(x)
	dy, my := aboutMean(y)
	var sxx, sxy float64
	for i := range dx {
		sxx += dx[i] * dx[i]
		sxy += dx[i] * dy[i]
	}
	if !(sxx > 0) {
		return l
	}
	l.Slope = sxy / sxx
	l.Intercept = my - l.Slope*mx
	l.DOF = n - 2
	if l.DOF == 0 {
		return l
	}
	square := 0.0
	for i := range dx {
		// Residuals are taken about the means, so that a large intercept costs no digits.
		r := dy[i] - l.Slope*dx[i]
		square += r * r
	}
	l.ResidualSD = math.Sqrt(square / l.DOF)
	l.USlope = l.ResidualSD / math.Sqrt(sxx)
	l.UIntercept = l.ResidualSD * math.Sqrt(1/n+mx*mx/sxx)
	l.Correlation = -mx / math.Sqrt(sxx/n+mx*mx)
	return l
}

// At returns the line's y at x and its standard uncertainty, including the
// correlation of intercept and slope (JCGM 100:2008, H.3.4, formula H.15).
func (l Line) At(x float64) (y, u float64) {
	square := l.UIntercept*l.UIntercept + x*x*l.USlope*l.USlope +
		2*x*l.UIntercept*l.USlope*l.Correlation
	return l.Intercept + l.Slope*x, math.Sqrt(max(0, square))
}
