package device

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// Curve is a calibration made ready to convert with. It is never changed once
// made, so goroutines may share it.
//
// What it converts is the counts of a cell above its zero, the level the cell
// last read unloaded. The zero is taken off before the curve and not after,
// because what wanders is added to the counts (offset of the amplifier, leak,
// the pressure of being fixed) and the curve was found over readings with their
// zero taken off: so no load is 0 kPa whatever the zero has become, and drift
// does not change what a newton adds. Below its zero a cell reads as far below
// 0 kPa as it would above, for noise about the zero to stay noise about zero.
//
// A cell of gain g at x counts above its zero is at f(x/g), f being the strip's curve:
//
//   - linear: f(x) = kpa_per_count·x;
//   - power: f(x) = kpa_at_one_count·x^exponent;
//   - points: the monotone cubic of F. N. Fritsch and J. Butland, SIAM J. Sci.
//     Stat. Comput. 5 (1984) 300-304, through the knots, and beyond the last
//     the line through the last two.
//
// The last two are kept at whole counts, and between those go straight.
type Curve struct {
	scale  []float64 // of each cell: kPa per count where the curve is a line, else 1 ÷ gain
	table  []float64 // kPa at 0, 1, 2 … counts; nil where the curve is a line
	maxKPa float64   // kPa
}

// Curve makes the strip's calibration ready. A curve that is not a line costs a
// table over the converter's range: make it once.
func (s *Strip) Curve() *Curve {
	c := &s.Calibration
	curve := &Curve{scale: make([]float64, s.Cells()), maxKPa: c.maxKPa()}
	top := 1.0 // of 1 ÷ gain
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
		_ = cubic.Fit(c.Counts, c.KPa) // always nil; what it would panic at, Check refuses
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

// most is the largest pressure that the curve is known to hold at, +Inf where
// nobody says.
func (c *Calibration) maxKPa() float64 {
	switch {
	case len(c.RangeKPa) == 2:
		return c.RangeKPa[1]
	case c.curve() == "points":
		return c.KPa[len(c.KPa)-1]
	}
	return math.Inf(1)
}

// MostKPa returns the largest pressure that the strip was calibrated at, beyond
// which its curve is only extended; +Inf where the profile does not say. Below
// the least one nothing is said to be wrong: every curve is anchored at no load.
func (c *Curve) MaxKPa() float64 { return c.maxKPa }

// Line returns the kPa of one count of each cell, nil where the curve is not a line.
func (c *Curve) LinearScale() []float64 {
	if c.table != nil {
		return nil
	}
	return c.scale
}

// KPa returns the pressure on the k-th cell, at so many counts above its zero.
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

// PerCount returns what one more count adds to the pressure on the k-th cell,
// where it reads so many counts above its zero, kPa.
func (c *Curve) PerCount(k int, above float64) float64 {
	if c.table == nil {
		return c.scale[k]
	}
	i := min(int(math.Abs(above*c.scale[k])), len(c.table)-2)
	return c.scale[k] * (c.table[i+1] - c.table[i])
}

// Counts returns how many counts above its zero the k-th cell reads under a
// pressure, kPa: what KPa undoes.
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

// Frame sets kPa to the pressure on every cell of a frame; zero is what each
// cell reads unloaded, counts.
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
