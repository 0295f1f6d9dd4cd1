package track

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze"
)

// Everything of a follow-up that people read is in this file.

// Say says how well a measure repeats and what that rests on.
func (r *Repeat) Say(measure string) string {
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
	said := fmt.Sprintf("The smallest change beyond noise is %s, from %s %s (%.0f degrees of freedom).", amount(measure, r.MDC95), what, whose, r.DOF)
	if r.From == Remountings {
		said += " Days differ by more than mountings, so a change just beyond it may be the day's."
	}
	if r.Holds < 0.93 {
		said += fmt.Sprintf(" From so few it holds %.0f %% of changes by chance rather than 95 %%.", 100*r.Holds)
	}
	return said
}

// Say says what changed since the reference.
func (p Point) Say(measure string) string {
	said := fmt.Sprintf("%s: %s", p.Visit, value(measure, p.Mean))
	switch {
	case p.Reference:
		said += ", the reference"
	case p.Wording == "":
		said += fmt.Sprintf(", changed by %s", signed(measure, *p.Change))
	default:
		said += fmt.Sprintf(", change %s: %s", signed(measure, *p.Change), p.Wording)
	}
	if len(p.Flags) > 0 {
		said += " (" + strings.Join(p.Flags, "; ") + ")"
	}
	return said
}

// Say says whether a set tires the dancer.
func (f *Fatigue) Say(measure string) string {
	slope, interval, wording := f.Parts(measure)
	said := fmt.Sprintf("%s a relevé within a set (95 %% interval %s)", slope, interval)
	if f.Clear {
		return said
	}
	return said + ": " + wording
}

// Parts returns what Say says in parts, for a table: the slope a relevé, its 95 %
// interval and whether it is clear.
func (f *Fatigue) Parts(measure string) (perReleve, interval, wording string) {
	wording = "could be chance"
	if f.Clear {
		wording = "clear"
	}
	return slope(measure, f.PerReleve), slope(measure, f.CI95[0]) + " to " + slope(measure, f.CI95[1]), wording
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

// doubt says what is not compared.
func (f *FollowUp) doubt() {
	for i, s := range f.Series {
		if len(s.Points) == 1 {
			f.Warnings = append(f.Warnings, fmt.Sprintf("%s, shoe %s%s: one visit only, nothing to set it against", s.Side, s.Shoe, s.conditions()))
		}
		for _, o := range f.Series[:i] {
			if o.Side != s.Side {
				continue
			}
			why := "different shoes"
			if o.Shoe == s.Shoe {
				why = "different support or rise"
			}
			f.Warnings = append(f.Warnings, fmt.Sprintf("%s: %s%s and %s%s are followed each on its own: %s",
				s.Side, o.Shoe, o.conditions(), s.Shoe, s.conditions(), why))
		}
	}
}

func (s Series) conditions() string {
	var said []string
	for _, c := range []string{s.Support, s.Rise} {
		if c != "" {
			said = append(said, c)
		}
	}
	if said == nil {
		return ""
	}
	return " (" + strings.Join(said, ", ") + ")"
}

// value writes a value of the measure with its unit and a true minus. Shares are
// written in per cent, what they differ by in percentage points.
func value(measure string, v float64) string { return written(measure, v, 0, "%") }

// amount writes how far apart values are.
func amount(measure string, v float64) string { return written(measure, v, 0, "percentage points") }

// signed writes a change with its sign.
func signed(measure string, v float64) string { return plus(v) + amount(measure, v) }

// slope writes a change a relevé, which takes one decimal more.
func slope(measure string, v float64) string {
	return plus(v) + written(measure, v, 1, "percentage points")
}

func plus(v float64) string {
	if v > 0 {
		return "+"
	}
	return ""
}

func written(measure string, v float64, finer int, ofShare string) string {
	m, known := analyze.MeasureNamed(measure)
	if !known {
		m.Decimals = 2
	}
	if strings.HasSuffix(measure, "_share") || strings.HasSuffix(measure, "_third") {
		m.Unit, m.Decimals, v = ofShare, 0, 100*v
	}
	s := fmt.Sprintf("%.*f", m.Decimals+finer, v)
	if digits, negative := strings.CutPrefix(s, "-"); negative {
		s = digits
		if strings.Trim(digits, "0.") != "" { // else it is nothing, and has no sign
			s = "−" + digits
		}
	}
	if m.Unit != "" {
		s += " " + m.Unit
	}
	return s
}
