package forms

import (
	"fmt"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// Visit returns the form of a visit.
func Visit() *Form[logbook.Visit] {
	s := &Form[logbook.Visit]{}
	s.word("support", "`WHAT` the dancer holds on to", logbook.Supports[:], func(v *logbook.Visit) *string { return &v.Support })
	s.word("rise", "`HOW` the dancer rises", logbook.Rises[:], func(v *logbook.Visit) *string { return &v.Rise })
	s.text("position", "`POSITION` of the feet, such as first or parallel", func(v *logbook.Visit) *string { return &v.Position })
	s.text("floor", "`WHAT` the floor is made of", func(v *logbook.Visit) *string { return &v.Floor })
	s.number("mass-kg", "the dancer's body mass in `KG`", func(v *logbook.Visit) *float64 { return &v.MassKG })
	pain := func(name, usage string, of func(*logbook.Visit) **int) {
		s.add(name, usage, nil, func(v *logbook.Visit, typed string) error {
			*of(v) = nil
			if typed == "" {
				return nil
			}
			n, err := text.ParseWhole(typed)
			*of(v) = &n
			return err
		})
	}
	pain("pain-before", "pain before, `0..10`, 0 is none", func(v *logbook.Visit) **int { return &v.PainBefore })
	pain("pain-after", "pain after, `0..10`", func(v *logbook.Visit) **int { return &v.PainAfter })
	s.add("pain-where", "`WHERE` it hurts before, foot, site and 0..10, with commas between, such as \"left heel 2\"", nil, func(v *logbook.Visit, typed string) (err error) {
		if err := device.CheckLength(typed); err != nil {
			return err
		}
		v.PainWhere, err = logbook.ParsePains(typed)
		if worst := logbook.WorstPain(v.PainWhere); worst != nil && (v.PainBefore == nil || *v.PainBefore < *worst) {
			v.PainBefore = worst
		}
		return err
	})
	s.word("warm-up", "`YES` or no: whether the dancer is warmed up", logbook.YesOrNo[:], func(v *logbook.Visit) *string { return &v.WarmUp })
	s.whole("max-rises", "most rises in this visit, a `NUMBER` that the dancer's clinician sets", func(v *logbook.Visit) *int { return &v.MaxRises })
	s.add("single-leg", "rises on one leg that were counted, `COUNTS` such as left=12,right=9", nil, func(v *logbook.Visit, typed string) (err error) {
		v.SingleLeg, err = parseSingleLeg(typed)
		return err
	})
	s.text("choice", "`SHOE` that was chosen", func(v *logbook.Visit) *string { return &v.Choice })
	s.text("choice-why", "`REASON` for the choice", func(v *logbook.Visit) *string { return &v.ChoiceWhy })
	s.add("baseline", "`YES` or no: between baseline visits nothing should have changed", []string{"yes", "no"}, func(v *logbook.Visit, typed string) error {
		switch typed {
		case "yes", "true":
			v.Baseline = true
		case "no", "false", "":
			v.Baseline = false
		default:
			return fmt.Errorf("%.40q: yes or no", typed)
		}
		return nil
	})
	s.text("note", "free `TEXT`, without a name in it", func(v *logbook.Visit) *string { return &v.Note })
	return s
}

// parseSingleLeg parses counts by foot, such as "left=12,right=9".
func parseSingleLeg(typed string) (counts [2]*int, err error) {
	if typed == "" {
		return counts, nil
	}
	for one := range strings.SplitSeq(typed, ",") {
		foot, number, _ := strings.Cut(strings.TrimSpace(one), "=")
		f := device.Left
		switch {
		case strings.EqualFold(foot, device.Right.String()):
			f = device.Right
		case !strings.EqualFold(foot, device.Left.String()):
			return counts, fmt.Errorf("%.40q: such as left=12,right=9", one)
		}
		n, err := text.ParseWhole(number)
		if err != nil {
			return counts, err
		}
		counts[f] = &n
	}
	return counts, nil
}
