package track

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
)

// Everything of a follow-up that people read is in this file.

// Say says how well a measure repeats and what that rests on.
func (r *Repeat) Say(m measure.Measure) string {
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
	said := fmt.Sprintf("The smallest change beyond noise is %s, from %s %s (%.0f degrees of freedom).", amount(m, r.MDC95), what, whose, r.DOF)
	if r.From == Remountings {
		said += " Days differ by more than mountings, so a change just beyond it may be the day's."
	}
	if r.Holds < 0.93 {
		said += fmt.Sprintf(" From so few it holds %.0f %% of changes by chance rather than 95 %%.", 100*r.Holds)
	}
	return said
}

// Say says what changed since the reference.
func (p Point) Say(m measure.Measure) string {
	said := fmt.Sprintf("%s: %s", p.Visit, value(m, p.Mean))
	switch {
	case p.Reference:
		said += ", the reference"
	case p.Wording == "":
		said += fmt.Sprintf(", changed by %s", signed(m, *p.Change))
	default:
		said += fmt.Sprintf(", change %s: %s", signed(m, *p.Change), p.Wording)
	}
	if len(p.Flags) > 0 {
		said += " (" + strings.Join(p.Flags, "; ") + ")"
	}
	return said
}

// Say says whether a set tires the dancer.
func (f *Fatigue) Say(m measure.Measure) string {
	slope, interval, wording := f.Parts(m)
	said := fmt.Sprintf("%s a relevé within a set (95 %% interval %s)", slope, interval)
	if f.Clear {
		return said
	}
	return said + ": " + wording
}

// Parts returns what Say says in parts, for a table: the slope a relevé, its 95 %
// interval and whether it is clear.
func (f *Fatigue) Parts(m measure.Measure) (perReleve, interval, wording string) {
	wording = "could be chance"
	if f.Clear {
		wording = "clear"
	}
	return slope(m, f.PerReleve), slope(m, f.CI95[0]) + " to " + slope(m, f.CI95[1]), wording
}

// flags says what else differs between a visit and the reference.
func flags(reference, v *visit) (said []string) {
	if !slices.Equal(reference.versions, v.versions) {
		said = append(said, "the shoe has been worn or altered since: part of the change may be the shoe's")
	}
	if !slices.Equal(reference.strips, v.strips) {
		said = append(said, "another strip")
	}
	return said
}

// doubt warns of what is not compared.
func (f *FollowUp) doubt() {
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

func (f *FollowUp) warn(code measure.Code, series ...Series) {
	var names []measure.SeriesName
	for _, s := range series {
		names = append(names, measure.SeriesName{Side: string(s.Side), Shoe: s.Shoe, Support: s.Support, Rise: s.Rise})
	}
	f.Warnings = append(f.Warnings, measure.Warn(code, measure.Values{Series: names}))
}

// value writes a value of the measure with its unit and a true minus. Shares are
// written in per cent, what they differ by in percentage points.
func value(m measure.Measure, v float64) string { return written(m, v, 0, "%") }

// amount writes how far apart values are.
func amount(m measure.Measure, v float64) string { return written(m, v, 0, "percentage points") }

// signed writes a change with its sign.
func signed(m measure.Measure, v float64) string { return plus(v) + amount(m, v) }

// slope writes a change a relevé, which takes one decimal more.
func slope(m measure.Measure, v float64) string {
	return plus(v) + written(m, v, 1, "percentage points")
}

func plus(v float64) string {
	if v > 0 {
		return "+"
	}
	return ""
}

func written(m measure.Measure, v float64, finer int, ofShare string) string {
	d := m.Describe()
	unit := d.Unit
	if d.Proportion {
		unit, v = ofShare, 100*v
	}
	s := fmt.Sprintf("%.*f", d.Decimals+finer, v)
	if digits, negative := strings.CutPrefix(s, "-"); negative {
		s = digits
		if strings.Trim(digits, "0.") != "" { // else it is nothing, and has no sign
			s = "−" + digits
		}
	}
	if unit != "" {
		s += " " + unit
	}
	return s
}
