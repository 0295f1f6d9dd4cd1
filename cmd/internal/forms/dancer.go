package forms

import (
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// Dancer returns the form of a dancer.
func Dancer() *Form[logbook.Dancer] {
	s := &Form[logbook.Dancer]{}
	s.whole("birth-year", "`YEAR` of birth", func(d *logbook.Dancer) *int { return &d.BirthYear })
	s.add("pointe-years", "`YEARS` on pointe so far", nil, func(d *logbook.Dancer, v string) error {
		d.PointeYears = nil
		if v == "" {
			return nil
		}
		years, err := text.ParseNumber(v)
		d.PointeYears = &years
		return err
	})
	s.word("watch", "the `SIDE` being watched", []string{"left", "right"}, func(d *logbook.Dancer) *string { return &d.Watched })
	feet := func(name, usage string, words []string, set func(*logbook.Foot, string) error) {
		s.add(name, usage, words, func(d *logbook.Dancer, v string) error { return eachFoot(&d.Feet, v, set) })
	}
	feet("toe-shape", "`WORD` for the toes: "+strings.Join(logbook.ToeShapes[:], ", ")+"; LEFT/RIGHT where the feet differ",
		logbook.ToeShapes[:], func(f *logbook.Foot, v string) error { f.ToeShape = v; return nil })
	feet("longest-toe", "`NUMBER` of the longest toe, 1 the big one; or LEFT/RIGHT", nil, func(f *logbook.Foot, v string) (err error) {
		f.LongestToe = 0
		if v != "" {
			f.LongestToe, err = text.ParseWhole(v)
		}
		return err
	})
	feet("foot-width", "`WORD` for the width of the feet: "+strings.Join(logbook.Widths[:], ", ")+"; or LEFT/RIGHT",
		logbook.Widths[:], func(f *logbook.Foot, v string) error { f.Width = v; return nil })
	feet("compressibility", "`WORD` for how far the forefoot gives: "+strings.Join(logbook.Compressibilities[:], ", ")+"; or LEFT/RIGHT",
		logbook.Compressibilities[:], func(f *logbook.Foot, v string) error { f.Compressibility = v; return nil })
	s.word("consent", "`WHAT` the dancer agrees to", logbook.Consents[:], func(d *logbook.Dancer) *string { return &d.Consent })
	s.add("consent-date", "`DAY` on which that was said, such as 2026-03-14; default today", nil, func(d *logbook.Dancer, v string) (err error) {
		d.ConsentDay = ""
		if v != "" {
			d.ConsentDay, err = logbook.ParseDay(v)
		}
		return err
	})
	s.text("note", "free `TEXT`, without a name in it", func(d *logbook.Dancer) *string { return &d.Note })
	return s
}

// eachFoot sets both feet to what was typed: one value for both, or LEFT/RIGHT.
func eachFoot(feet *[2]logbook.Foot, typed string, set func(*logbook.Foot, string) error) error {
	left, right, two := strings.Cut(typed, "/")
	if !two {
		right = left
	}
	if err := set(&feet[device.Left], left); err != nil {
		return err
	}
	return set(&feet[device.Right], right)
}
