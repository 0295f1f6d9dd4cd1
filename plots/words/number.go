package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// Number writes v with a fixed number of decimals and a true minus sign
// (U+2212). A value that rounds to zero has no sign; what is not finite is
// written as a dash.
func Number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	text := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	if v < 0 && strings.Trim(text, "0.") != "" {
		return "−" + text
	}
	return text
}

// Trimmed writes v as Number does, without needless zeros after the decimal point.
func Trimmed(v float64, decimals int) string {
	text := Number(v, decimals)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// Digits writes v with a number of significant digits at most, without needless zeros
// and never with an exponent. What is not finite is written as a dash.
func Digits(v float64, digits int) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	return strings.Replace(strconv.FormatFloat(rounded, 'f', -1, 64), "-", "−", 1)
}

// Signed writes v as Number does, with a plus sign where it rounds to more than zero.
func Signed(v float64, decimals int) string {
	text := Number(v, decimals)
	if v > 0 && strings.ContainsAny(text, "123456789") {
		return "+" + text
	}
	return text
}

// Count writes a number with its noun: one for 1, many for every other number.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Display describes how a measure is written for people: its entry in the
// catalogue, and the display unit. A proportion is displayed in per cent, every
// other measure in the unit of the catalogue.
type Display struct {
	measure.Description
	Measure  measure.Measure
	Unit     string  // of a value on display
	DiffUnit string  // of a difference on display
	Scale    float64 // a value in the catalogue's unit times Scale is in Unit
}

// percentagePoints is the unit of a difference of proportions.
const percentagePoints = "percentage points"

// DisplayOf returns how m is written for people.
func DisplayOf(m measure.Measure) Display {
	d := m.Describe()
	if d.Proportion {
		return Display{Description: d, Measure: m, Unit: "%", DiffUnit: percentagePoints, Scale: 100}
	}
	return Display{Description: d, Measure: m, Unit: d.Unit, DiffUnit: d.Unit, Scale: 1}
}

// Value writes a value with its display unit. The values given to this and to
// all other methods are in the unit of the catalogue.
func (d Display) Value(v float64) string { return withUnit(d.number(v), d.Unit) }

// PlusMinus writes a mean with the half-width of its 95 % interval, or the mean
// alone where there is no interval. A contact share is written as Contact does.
func (d Display) PlusMinus(mean float64, ci95 *[2]float64) string {
	switch {
	case d.Measure == measure.ContactShare:
		return Contact(mean, ci95)
	case ci95 == nil:
		return d.Value(mean)
	}
	return withUnit(d.number(mean)+" ± "+d.number((ci95[1]-ci95[0])/2), d.Unit)
}

// WithU writes a value with the half-width of its 95 % interval, which follows from its
// standard uncertainty u with dof degrees of freedom; the value alone where u is nil. A
// contact share is written as Contact does, with the interval cut to 0 to 1.
func (d Display) WithU(v float64, u *float64, dof measure.DOF) string {
	if u == nil {
		return d.Value(v)
	}
	half := HalfWidth(*u, dof)
	ci := [2]float64{v - half, v + half}
	if d.Measure == measure.ContactShare {
		ci = [2]float64{max(0, ci[0]), min(1, ci[1])}
	}
	return d.PlusMinus(v, &ci)
}

// HalfWidth returns the half-width of the 95 % interval of a value with standard uncertainty
// u and dof degrees of freedom; 0 stands for unlimited ones.
func HalfWidth(u float64, dof measure.DOF) float64 {
	if dof == 0 {
		dof = measure.Unlimited
	}
	return stats.Interval95(0, u, float64(dof)).Hi
}

// Difference writes a difference with its sign and unit, and with its 95 %
// interval where there is one.
func (d Display) Difference(diff float64, ci95 *[2]float64) string {
	text := withUnit(Signed(diff*d.Scale, d.Decimals), d.DiffUnit)
	if ci95 == nil {
		return text
	}
	return text + " (" + d.Interval(*ci95) + ")"
}

// Interval writes both ends of an interval, without a unit.
func (d Display) Interval(ci [2]float64) string {
	return d.number(ci[0]) + " to " + d.number(ci[1])
}

func (d Display) number(v float64) string { return Number(v*d.Scale, d.Decimals) }

// withUnit writes a number with its unit; 1, +1 and −1 percentage point are singular.
func withUnit(number, unit string) string {
	switch {
	case unit == "":
		return number
	case unit == percentagePoints && strings.TrimLeft(number, "+−") == "1":
		unit = "percentage point"
	}
	return number + " " + unit
}
