package plots

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aplomb/analyze"
	"aplomb/analyze/compare"
)

// VerdictWords says a verdict in plain words; medialMM tells the side.
func VerdictWords(v analyze.Verdict, medialMM float64) string {
	switch v {
	case analyze.Over:
		return "over the box"
	case analyze.NotOver:
		return "behind (pulled back)"
	case analyze.TooFarOver:
		return "too far over"
	case analyze.ToTheSide:
		if medialMM < 0 {
			return "to the little-toe side"
		}
		return "to the big-toe side"
	case analyze.TooCloseToCall:
		return "too close to call"
	}
	return string(v)
}

// Shown is how a measure is put before people: a share as a percentage.
type Shown struct {
	Name     string // as in the JSON
	Title    string
	Unit     string // of a value
	DiffUnit string // of a difference
	Low, Top string // what its ends mean, where they mean something
	Scale    float64
	Decimals int
}

var titles = map[string]Shown{
	"over_mm":       {Title: "Front to back (over)", Low: "back", Top: "front"},
	"medial_mm":     {Title: "Side to side (medial)", Low: "little toe", Top: "big toe"},
	"contact_share": {Title: "Platform in contact (contact share)"},
	"load_n":        {Title: "Load"},
	"kern_ratio":    {Title: "Kern ratio (up to 1 is inside)"},
	"sd_over_mm":    {Title: "Sway front to back, SD"},
	"sd_medial_mm":  {Title: "Sway side to side, SD"},
	"ellipse95_mm2": {Title: "Sway, 95 % prediction ellipse"},
	"hold_s":        {Title: "Length of the hold"},
}

// Show looks up how a measure is shown.
func Show(measure string) Shown {
	s := titles[measure]
	s.Name, s.Scale = measure, 1
	if m, ok := analyze.MeasureNamed(measure); ok {
		s.Unit, s.DiffUnit, s.Decimals = m.Unit, m.Unit, m.Decimals
		if s.Title == "" {
			s.Title = strings.ToUpper(m.Label[:1]) + m.Label[1:]
		}
	}
	if s.Title == "" {
		s.Title = measure
	}
	if strings.HasSuffix(measure, "_share") || strings.HasSuffix(measure, "_third") {
		s.Unit, s.DiffUnit, s.Scale, s.Decimals = "%", "percentage points", 100, 0
	}
	return s
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
