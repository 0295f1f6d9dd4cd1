package forms

import (
	"fmt"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
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
