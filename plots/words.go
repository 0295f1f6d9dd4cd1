package plots

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
)

// VerdictWords says a verdict in plain words; medialMM tells the side.
func VerdictWords(v measure.Verdict, medialMM float64) string {
	switch v {
	case measure.OverTheBox:
		return "over the box"
	case measure.PulledBack:
		return "behind (pulled back)"
	case measure.TooFarOver:
		return "too far over"
	case measure.ToTheSide:
		if medialMM < 0 {
			return "to the little-toe side"
		}
		return "to the big-toe side"
	case measure.TooCloseToCall:
		return "too close to call"
	}
	return string(v)
}

// Shown is how a measure is put before people: a proportion as a percentage.
type Shown struct {
	measure.Description
	Measure  measure.Measure
	Unit     string // of a value as people read it
	DiffUnit string // of a difference
	Scale    float64
}

// Show looks up how a measure is shown.
func Show(m measure.Measure) Shown {
	d := m.Describe()
	if d.Proportion {
		return Shown{Description: d, Measure: m, Unit: "%", DiffUnit: "percentage points", Scale: 100}
	}
	return Shown{Description: d, Measure: m, Unit: d.Unit, DiffUnit: d.Unit, Scale: 1}
}

// Value writes a value with its unit.
func (s Shown) Value(v float64) string { return withUnit(s.number(v), s.Unit) }

// PlusMinus writes a value with the half-width of its 95 % interval, or the
// value alone where there is none.
func (s Shown) PlusMinus(m compare.Summary) string {
	if m.CI95 == nil {
		return s.Value(m.Mean)
	}
	return withUnit(s.number(m.Mean)+" ± "+s.number((m.CI95[1]-m.CI95[0])/2), s.Unit)
}

// WithU writes a value with its standard uncertainty, or the value alone where
// there is none.
func (s Shown) WithU(v float64, u *float64) string {
	if u == nil {
		return s.Value(v)
	}
	return withUnit(s.number(v)+" ± "+s.number(*u), s.Unit)
}

// Difference writes a difference with its sign, unit and 95 % interval.
func (s Shown) Difference(d float64, ci *[2]float64) string {
	text := s.number(d)
	if !strings.HasPrefix(text, "−") && strings.Trim(text, "0.") != "" {
		text = "+" + text
	}
	text = withUnit(text, s.DiffUnit)
	if ci == nil {
		return text
	}
	return text + " (" + s.Interval(*ci) + ")"
}

// Interval writes both ends of an interval, without a unit.
func (s Shown) Interval(ci [2]float64) string {
	return s.number(ci[0]) + " to " + s.number(ci[1])
}

func (s Shown) number(v float64) string { return Number(v*s.Scale, s.Decimals) }

// Number writes v with so many decimals and a true minus sign, and never "−0".
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

// Count writes a number of things.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func withUnit(number, unit string) string {
	if unit == "" {
		return number
	}
	return number + " " + unit
}
