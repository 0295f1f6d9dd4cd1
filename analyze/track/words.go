package track

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
)

// This file contains all texts of a follow-up.

// RepeatText returns the smallest change beyond noise and the repetitions that it is based
// on, or how many more mountings it takes to know them.
func (s *Series) RepeatText(m measure.Measure) string {
	if s.Repeat != nil {
		return s.Repeat.text(m)
	}
	return fmt.Sprintf("How well this repeats is not known well enough to judge a change. It takes %d mountings beyond the first of their visit (so far %d, still needed %d). %d visits marked as baseline, between which nothing should change, do as well.",
		minDOF, s.Remounted, minDOF-s.Remounted, minDOF+1)
}

// text is RepeatText for a repeatability that is known.
func (r *Repeatability) text(m measure.Measure) string {
	what := "baseline visits"
	if r.From == Remountings {
		what = "remountings on one day"
	}
	whose := "of this dancer"
	if r.Pooled {
		whose = "of dancers in the logbook, because this one has too few"
	}
	if r.Study != "" {
		whose = "of the study in " + r.Study
	}
	if r.Study != "" && r.From == BaselineVisits {
		what = "visits"
	}
	said := fmt.Sprintf("The minimal detectable change is %s, from %s %s (%.0f degrees of freedom).", amountText(m, r.MDC95), what, whose, r.DOF)
	if r.From == Remountings {
		said += " Days differ by more than mountings, so a change just beyond it may be the day's."
	}
	return said
}

// Parts returns the slope a relevé, its 95 % interval and the wording as texts for a
// table. Exploratory measures have no wording.
func (f *Fatigue) Parts(m measure.Measure) (perReleve, interval, wording string) {
	switch {
	case f.Clear:
		wording = "clear"
	case m.Describe().Kind == measure.Declared:
		wording = "could be chance"
	}
	return slopeText(m, f.PerReleve), slopeText(m, f.CI95[0]) + " to " + slopeText(m, f.CI95[1]), wording
}

// Flag is a difference between a visit and the reference, other than the measure. Its
// value is the sentence that people and JSON get.
type Flag string

const (
	ShoeAltered  Flag = "the shoe has been worn or altered since: part of the change may be the shoe's"
	AnotherStrip Flag = "another strip"
	AnotherScale Flag = "another strip or calibration: it may read the same load differently, so the change is not judged"
	ScaleMoved   Flag = "the checks of the strip differ from those at the reference, so the change is not judged"
)

// shoeWorn returns the flag of a shoe with other hours of wear.
func shoeWorn(reference, now float64) Flag {
	return Flag(fmt.Sprintf("shoe worn for %.4g h, %.4g h at the reference: part of the change may be the shoe's", now, reference))
}

// flags returns the differences between a visit and the reference.
func flags(reference, v *visit) (differ []Flag) {
	then, now := reference.hoursWorn(), v.hoursWorn()
	switch {
	case then != now:
		differ = append(differ, shoeWorn(then, now))
	case !sameNames(reference.versions, v.versions):
		differ = append(differ, ShoeAltered)
	}
	if !sameNames(reference.strips, v.strips) {
		differ = append(differ, AnotherStrip)
	}
	was, is := alsoTexts(reference.also), alsoTexts(v.also)
	for i, text := range is {
		if text != was[i] {
			differ = append(differ, Flag(text))
		}
	}
	return differ
}

// sameNames reports whether two lists have the same names, in any order.
func sameNames(a, b []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}

// alsoTexts returns the other conditions of a visit as texts, one for each kind. Several
// values of one kind are joined.
func alsoTexts(all []Also) (texts [6]string) {
	for i, name := range []string{"position", "floor", "fixing", "feedback", "padding", "mark"} {
		var values []string
		for _, a := range all {
			mark := ""
			if a.Mark > 0 {
				mark = fmt.Sprint(a.Mark)
			}
			value := [6]string{a.Position, a.Floor, a.Fixing, a.Feedback, a.Padding, mark}[i]
			if value == "" {
				value = "not stated"
			}
			if !slices.Contains(values, value) {
				values = append(values, value)
			}
		}
		slices.Sort(values)
		texts[i] = name + " " + strings.Join(values, " or ")
	}
	return texts
}

// addWarnings adds warnings about series that are not compared.
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

// amountText formats a difference of values.
func amountText(m measure.Measure, v float64) string { return format(m, v, 0) }

// slopeText formats a change a relevé with its sign and one decimal more.
func slopeText(m measure.Measure, v float64) string {
	sign := ""
	if v > 0 {
		sign = "+"
	}
	return sign + format(m, v, 1)
}

// format formats a difference of values with the decimals of the measure and finer
// more, its unit, and a true minus sign. Those of proportions are in percentage points.
func format(m measure.Measure, v float64, finer int) string {
	d := m.Describe()
	unit := d.Unit
	if d.Proportion {
		unit, v = "percentage points", 100*v
	}
	s := fmt.Sprintf("%.*f", d.Decimals+finer, v)
	if digits, negative := strings.CutPrefix(s, "-"); negative {
		s = digits
		if strings.Trim(digits, "0.") != "" { // a value that rounds to 0 has no sign
			s = "−" + digits
		}
	}
	if d.Proportion && strings.TrimPrefix(s, "−") == "1" {
		unit = "percentage point"
	}
	if unit != "" {
		s += " " + unit
	}
	return s
}
