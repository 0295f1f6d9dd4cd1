package calibrate

import (
	"math"

	"gonum.org/v1/gonum/interp"

	"aplomb/analyze/stats"
)

// CurveKind is the kind of a curve.
type CurveKind string

// Kinds of curves, the simplest first.
const (
	LinearCurve CurveKind = "linear" // kPa = KPaPerCount · reading
	PowerCurve  CurveKind = "power"  // kPa = KPaAtOneCount · reading^Exponent
	PointsCurve CurveKind = "points" // monotone cubic through the points Counts, KPa, the first at 0, 0; linear beyond the last two
)

// kinds lists the kinds, the simplest first.
var kinds = [...]CurveKind{LinearCurve, PowerCurve, PointsCurve}

// Curve converts the reading of a cell (net counts ÷ gain) to kPa. Only the fields of
// its kind are set.
type Curve struct {
	Kind          CurveKind
	KPaPerCount   float64
	KPaAtOneCount float64
	Exponent      float64
	Counts, KPa   []float64
}

// At returns the pressure at a reading, kPa. The curve is odd, At(−x) = −At(x), so
// that noise about the zero averages to 0 kPa. A curve without kind gives NaN.
func (c Curve) At(reading float64) float64 {
	if reading < 0 {
		return -c.At(-reading)
	}
	switch c.Kind {
	case LinearCurve:
		return c.KPaPerCount * reading
	case PowerCurve:
		return c.KPaAtOneCount * math.Pow(reading, c.Exponent)
	case PointsCurve:
		n := len(c.Counts) - 1
		if reading > c.Counts[n] {
			slope := (c.KPa[n] - c.KPa[n-1]) / (c.Counts[n] - c.Counts[n-1])
			return c.KPa[n] + slope*(reading-c.Counts[n])
		}
		// Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.
		var cubic interp.FritschButland
		_ = cubic.Fit(c.Counts, c.KPa) // always nil
		return cubic.Predict(reading)
	}
	return math.NaN()
}

// Bounds of a plausible exponent: outside them the weights are probably wrong. Our own
// choice.
const (
	leastExponent = 0.2
	mostExponent  = 5
)

// fitCurve returns the least-squares curve of a kind for readings x, in rising order,
// and the pressures p on them, kPa; false where there is none.
//
// The residuals are in kPa and not in counts, because a pressure will be
// predicted from a reading (inverse calibration: Krutchkoff, Technometrics 9
// (1967) 425-439), and not relative, because load and
// centre of pressure are sums of pressures.
func fitCurve(kind CurveKind, x, p []float64) (Curve, bool) {
	switch kind {
	case LinearCurve:
		var xx, xp float64
		for i := range x {
			xx, xp = xx+x[i]*x[i], xp+x[i]*p[i]
		}
		return Curve{Kind: LinearCurve, KPaPerCount: xp / xx}, xp > 0
	case PowerCurve:
		return fitPower(x, p)
	}
	return Curve{
		Kind:   PointsCurve,
		Counts: append([]float64{0}, x...),
		KPa:    append([]float64{0}, p...),
	}, true
}

// fitPower fits p = a·x^b by Gauss-Newton steps in log a and b, starting from the
// line through the logarithms. That line alone would give small pressures too
// much weight.
func fitPower(x, p []float64) (Curve, bool) {
	lx, lp := make([]float64, len(x)), make([]float64, len(x))
	middle := 0.0
	for i := range x {
		lx[i], lp[i] = math.Log(x[i]), math.Log(p[i])
		middle += lx[i] / float64(len(x))
	}
	for i := range lx { // about the middle a and b are almost uncorrelated
		lx[i] -= middle
	}
	line := stats.FitLine(lx, lp)
	a, b := line.Intercept, line.Slope
	residual := func(a, b float64) (square float64) {
		for i := range x {
			r := p[i] - math.Exp(a+b*lx[i])
			square += r * r
		}
		return square
	}
	now := residual(a, b)
	for range 100 {
		// The gradient of exp(a + b·log x) is itself times 1 and log x.
		var saa, sab, sbb, ra, rb float64
		for i := range x {
			f := math.Exp(a + b*lx[i])
			r := p[i] - f
			saa, sab, sbb = saa+f*f, sab+f*f*lx[i], sbb+f*f*lx[i]*lx[i]
			ra, rb = ra+f*r, rb+f*r*lx[i]
		}
		det := saa*sbb - sab*sab
		if !(det > 0) {
			break
		}
		da, db := (sbb*ra-sab*rb)/det, (saa*rb-sab*ra)/det
		step := 1.0
		for step > 1e-6 && !(residual(a+step*da, b+step*db) <= now) {
			step /= 2
		}
		if step <= 1e-6 {
			break
		}
		a, b = a+step*da, b+step*db
		now = residual(a, b)
		if math.Abs(da)+math.Abs(db) < 1e-13 {
			break
		}
	}
	c := Curve{Kind: PowerCurve, KPaAtOneCount: math.Exp(a - b*middle), Exponent: b}
	return c, b >= leastExponent && b <= mostExponent && c.KPaAtOneCount > 0 && !math.IsInf(c.KPaAtOneCount, 0)
}

// leaveOneOut returns the root mean square error, kPa, of a kind of curve at each
// load when it is fitted to all others. The largest load is never left out,
// because the curve is not used beyond it. It is +Inf for a kind that cannot be
// fitted.
func leaveOneOut(kind CurveKind, x, p []float64) float64 {
	square := 0.0
	n := len(x) - 1
	for out := range n {
		c, ok := fitCurve(kind, leaveOut(x, out), leaveOut(p, out))
		if !ok {
			return math.Inf(1)
		}
		miss := c.At(x[out]) - p[out]
		square += miss * miss
	}
	return math.Sqrt(square / float64(n))
}

// leaveOut returns x without x[i].
func leaveOut(x []float64, i int) []float64 {
	return append(append([]float64{}, x[:i]...), x[i+1:]...)
}

// simplerTolerance is the ratio to the least leave-one-out error up to which a
// simpler curve is chosen. A larger value would keep linear curves where five
// loads show a curvature. The price is a non-linear curve in some cases where a
// line is true, with an error smaller than that of the readings (the tests print
// how often).
const simplerTolerance = 1.1

// chooseCurve fits every kind and returns the simplest whose leave-one-out error
// is within simplerTolerance of the least, with the errors of all kinds, kPa.
func chooseCurve(x, p []float64) (best Curve, miss map[CurveKind]float64) {
	miss = map[CurveKind]float64{}
	least := math.Inf(1)
	for _, k := range kinds {
		miss[k] = leaveOneOut(k, x, p)
		least = min(least, miss[k])
	}
	exact := 1e-9 * p[len(p)-1] // differences by rounding do not count
	for _, k := range kinds {
		if miss[k] <= simplerTolerance*least+exact {
			best, _ = fitCurve(k, x, p)
			break
		}
	}
	return best, miss
}
