package device

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// Curve converts the counts of a strip to pressures and back. It does not change
// once it is made, so goroutines may share it.
//
// It converts the counts of a cell above its zero, which is what the cell last read
// without load. The zero is subtracted before the curve is applied and not after:
// drift is added to the counts (offset of the amplifier, leakage, the pressure of
// the mounting), and the curve was measured with the zeros subtracted. So no load
// gives 0 kPa whatever the zero is, and drift does not change the sensitivity. Below
// its zero a cell gives the negative of the pressure as far above it, so that noise
// about the zero has mean 0.
//
// The pressure on a cell of gain g at x counts above its zero is f(x/g), where f is
// the strip's curve:
//
//   - linear: f(x) = kpa_per_count·x;
//   - power: f(x) = kpa_at_one_count·x^exponent;
//   - points: the monotone cubic of F. N. Fritsch and J. Butland, SIAM J. Sci.
//     Stat. Comput. 5 (1984) 300-304, through the points, and beyond the last
//     point the line through the last two.
//
// The last two are tabulated at whole counts and interpolated linearly.
type Curve struct {
	scale  []float64 // of each cell: kPa per count where the curve is linear, else 1 ÷ gain
	table  []float64 // kPa at 0, 1, 2 … counts; nil where the curve is linear
	maxKPa float64   // kPa
}

// Curve returns the curve of the strip's calibration. For a nonlinear one it computes
// a table over the converter's range, so a caller should keep it.
func (s *Strip) Curve() *Curve {
	c := &s.Calibration
	curve := &Curve{scale: make([]float64, s.Cells()), maxKPa: c.maxKPa()}
	top := 1.0 // largest 1 ÷ gain
	for k := range curve.scale {
		gain := 1.0
		if len(c.Gains) > 0 {
			gain = c.Gains[k]
		}
		curve.scale[k] = 1 / gain
		if !c.nonlinear() {
			curve.scale[k] = c.KPaPerCount / gain
		}
		top = max(top, 1/gain)
	}
	if c.nonlinear() {
		f := c.function()
		curve.table = make([]float64, 2+int(top*float64(s.SaturatesAt)))
		for x := range curve.table {
			curve.table[x] = f(float64(x))
		}
	}
	return curve
}

// function returns the curve as a function of counts ≥ 0, kPa.
func (c *Calibration) function() func(x float64) float64 {
	switch c.curve() {
	case "power":
		return func(x float64) float64 { return c.KPaAtOneCount * math.Pow(x, c.Exponent) }
	case "points":
		var cubic interp.FritschButland
		_ = cubic.Fit(c.Counts, c.KPa) // always nil; Check refuses what it would panic at
		n := len(c.Counts) - 1
		x, y := c.Counts[n], c.KPa[n]
		slope := (y - c.KPa[n-1]) / (x - c.Counts[n-1])
		return func(counts float64) float64 {
			if counts > x {
				return y + slope*(counts-x)
			}
			return cubic.Predict(counts)
		}
	}
	return func(x float64) float64 { return c.KPaPerCount * x }
}

// maxKPa returns the highest pressure of the calibration, +Inf where it is not stated.
func (c *Calibration) maxKPa() float64 {
	switch {
	case len(c.RangeKPa) == 2:
		return c.RangeKPa[1]
	case c.curve() == "points":
		return c.KPa[len(c.KPa)-1]
	}
	return math.Inf(1)
}

// MaxKPa returns the highest pressure that the strip was calibrated at, above which
// its curve is extrapolated; +Inf where the profile does not state it. There is no
// lowest one: every curve passes through 0 kPa without load.
func (c *Curve) MaxKPa() float64 { return c.maxKPa }

// LinearScale returns for each cell the kPa per count, nil where the curve is
// nonlinear.
func (c *Curve) LinearScale() []float64 {
	if c.table != nil {
		return nil
	}
	return c.scale
}

// KPa returns the pressure on the k-th cell at a number of counts above its zero.
func (c *Curve) KPa(k int, above float64) float64 {
	x := above * c.scale[k]
	if c.table == nil {
		return x
	}
	return c.at(x)
}

// at returns the pressure at x counts of a cell of gain 1.
func (c *Curve) at(x float64) float64 {
	above := math.Abs(x)
	i := min(int(above), len(c.table)-2)
	low := c.table[i]
	return math.Copysign(low+(above-float64(i))*(c.table[i+1]-low), x)
}

// PerCount returns the slope of the curve of the k-th cell at a number of counts
// above its zero, kPa per count.
func (c *Curve) PerCount(k int, above float64) float64 {
	if c.table == nil {
		return c.scale[k]
	}
	i := min(int(math.Abs(above*c.scale[k])), len(c.table)-2)
	return c.scale[k] * (c.table[i+1] - c.table[i])
}

// Counts returns the counts above its zero that the k-th cell reads at a pressure in
// kPa. It is the inverse of KPa.
func (c *Curve) Counts(k int, kPa float64) float64 {
	if c.table == nil {
		return kPa / c.scale[k]
	}
	if kPa < 0 {
		return -c.Counts(k, -kPa)
	}
	i := min(max(0, sort.SearchFloat64s(c.table, kPa)-1), len(c.table)-2)
	low := c.table[i]
	return (float64(i) + (kPa-low)/(c.table[i+1]-low)) / c.scale[k]
}

// Frame sets kPa to the pressures on the cells of a frame. zero is the zero of each
// cell, counts. All three have the length of the frame.
func (c *Curve) Frame(kPa []float64, counts []uint16, zero []float64) {
	scale := c.scale[:len(counts)]
	kPa, zero = kPa[:len(counts)], zero[:len(counts)]
	if c.table == nil {
		for k, n := range counts {
			kPa[k] = (float64(n) - zero[k]) * scale[k]
		}
		return
	}
	for k, n := range counts {
		kPa[k] = c.at((float64(n) - zero[k]) * scale[k])
	}
}
