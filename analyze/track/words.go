package track

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
)

// This file holds all texts of a follow-up.

// Say returns the smallest change beyond noise and the repetitions that it is
// based on.
func (r *Repeatability) Say(m measure.Measure) string {
	if r == nil {
		return "Too little says how well this repeats, so no change can be called. Mark visits as baseline between which nothing should change, or mount the strip twice a visit."
	}
	what := "baseline visits"
	if r.From == Remountings {
		what = "remountings on one day"
	}
	whose := "of this dancer"
	if r.Pooled {
		whose = "of all dancers in the logbook, because this one has too few"
	}
	said := fmt.Sprintf("The smallest change beyond noise is %s, from %s %s (%.0f degrees of freedom).", amountText(m, r.MDC95), what, whose, r.DOF)
	if r.From == Remountings {
		said += " Days differ by more than mountings, so a change just beyond it may be the day's."
	}
	if r.Coverage < 0.93 {
		said += fmt.Sprintf(" From so few it holds %.0f %% of changes by chance rather than 95 %%.", 100*r.Coverage)
	}
	return said
}

// Say returns the value of a visit and its change since the reference.
func (p Point) Say(m measure.Measure) string {
	said := fmt.Sprintf("%s: %s", p.Visit, valueText(m, p.Mean))
	switch {
	case p.Reference:
		said += ", the reference"
	case p.Wording == "":
		said += fmt.Sprintf(", changed by %s", changeText(m, *p.Change))
	default:
		said += fmt.Sprintf(", change %s: %s", changeText(m, *p.Change), p.Wording)
	}
	if len(p.Flags) > 0 {
		said += " (" + strings.Join(p.Flags, "; ") + ")"
	}
	return said
}

// Say returns the slope within a set.
func (f *Fatigue) Say(m measure.Measure) string {
	slope, interval, wording := f.Parts(m)
	said := fmt.Sprintf("%s a relevé within a set (95 %% interval %s)", slope, interval)
	if f.Clear {
		return said
	}
	return said + ": " + wording
}

// Parts returns the parts of Say for a table: the slope a relevé, its 95 %
// interval and the wording.
func (f *Fatigue) Parts(m measure.Measure) (perReleve, interval, wording string) {
	wording = "could be chance"
	if f.Clear {
		wording = "clear"
	}
	return slopeText(m, f.PerReleve), slopeText(m, f.CI95[0]) + " to " + slopeText(m, f.CI95[1]), wording
}

// flags returns what else differs between a visit and the reference.
func flags(reference, v *visit) (said []string) {
	if !slices.Equal(reference.versions, v.versions) {
		said = append(said, "the shoe has been worn or altered since: part of the change may be the shoe's")
	}
	if !slices.Equal(reference.strips, v.strips) {
		said = append(said, "another strip")
	}
	return said
}

// addWarnings warns of series that are not compared.
func (f *FollowUp) addWarnings() {
	for i, s := range f.Series {
		if len(s.Points) == 1 {
			f.warn(measure.OneVisit, s)
		}
		for _, o := range f.Series[:i] {
			if o.Side == s.Side {
				f.warn(measure.FollowedSeparate, o, s)
			}
		}
	}
}

// warn adds a warning about series.
func (f *FollowUp) warn(code measure.Code, series ...Series) {
	var names []measure.SeriesName
	for _, s := range series {
		names = append(names, measure.SeriesName{Side: string(s.Side), Shoe: s.Shoe, Support: s.Support, Rise: s.Rise})
	}
	f.Warnings = append(f.Warnings, measure.Warn(code, measure.Values{Series: names}))
}

// valueText formats a value of the measure with its unit and a true minus sign.
// Proportions are in per cent, their differences in percentage points.
func valueText(m measure.Measure, v float64) string { return format(m, v, 0, "%") }

// amountText formats a difference of values.
func amountText(m measure.Measure, v float64) string { return format(m, v, 0, "percentage points") }

// changeText formats a change with its sign.
func changeText(m measure.Measure, v float64) string { return plusSign(v) + amountText(m, v) }

// slopeText formats a change a relevé, with one decimal more.
func slopeText(m measure.Measure, v float64) string {
	return plusSign(v) + format(m, v, 1, "percentage points")
}

// plusSign returns "+" for a positive value.
func plusSign(v float64) string {
	if v > 0 {
		return "+"
	}
	return ""
}

// format formats v with the decimals of the measure and finer more, its unit, and
// a true minus sign; ofShare is the unit of a proportion.
func format(m measure.Measure, v float64, finer int, ofShare string) string {
	d := m.Describe()
	unit := d.Unit
	if d.Proportion {
		unit, v = ofShare, 100*v
	}
	s := fmt.Sprintf("%.*f", d.Decimals+finer, v)
	if digits, negative := strings.CutPrefix(s, "-"); negative {
		s = digits
		if strings.Trim(digits, "0.") != "" { // a value that rounds to 0 has no sign
			s = "−" + digits
		}
	}
	if unit != "" {
		s += " " + unit
	}
	return s
}
