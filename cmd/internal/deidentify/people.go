package deidentify

import (
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/fitting"
	"aplomb/device/correction"
)

// massStep is the step that body masses are rounded to, kg. No number that is measured
// depends on the mass. Ours.
const massStep = 5

// bandYears is the width of the bands of ages, in years, and lastBand the age from which on
// there is one band. Ours.
const (
	bandYears = 5
	lastBand  = 60
)

func mass(kg float64) float64 { return massStep * math.Round(kg/massStep) }

// ageBand returns the band of an age in years, such as 15-19.
func ageBand(years int) string {
	if years >= lastBand {
		return fmt.Sprintf("%d or more", lastBand)
	}
	from := max(0, years) / bandYears * bandYears
	return fmt.Sprintf("%d-%d", from, from+bandYears-1)
}

// dancer returns what is kept of a dancer. The year of birth goes: dates are moved, and the
// band of the age takes its place.
func (d *deidentifier) dancer(o logbook.Dancer) logbook.Dancer {
	now := logbook.Dancer{Code: d.codes.of("dancer", o.Code), Watched: o.Watched, Feet: o.Feet, Consent: o.Consent}
	if o.PointeYears != nil {
		years := math.Floor(*o.PointeYears)
		now.PointeYears = &years
	}
	if d.words {
		now.Note = o.Note
	}
	return now
}

// visit returns what is kept of a visit.
func (d *deidentifier) visit(o logbook.Visit) logbook.Visit {
	now := o
	now.ID, now.Dancer, now.Day = 0, d.codes.of("dancer", o.Dancer), d.day(o.Dancer, o.Day)
	now.Position, now.Floor = d.word("position", o.Position), d.word("floor", o.Floor)
	now.MassKG, now.Choice = mass(o.MassKG), d.codes.of("shoe", o.Choice)
	if d.words {
		return now
	}
	now.Note, now.ChoiceWhy, now.Study = "", "", "" // the number of the visit in the study stays
	now.PainWhere = slices.Clone(o.PainWhere)
	_, sites := fitting.Observed()
	for i := range now.PainWhere {
		if !slices.Contains(sites, now.PainWhere[i].Site) {
			now.PainWhere[i].Site = ""
		}
	}
	return now
}

// day returns the day to which a day of a dancer is moved.
func (d *deidentifier) day(dancer string, day logbook.Day) logbook.Day {
	return logbook.DayOf(day.Time().AddDate(0, 0, -d.key.shiftOf(dancer).days))
}

// remark returns what is kept of a remark: what was chosen from a list, and numbers.
func (d *deidentifier) remark(o correction.Remark) correction.Remark {
	if d.words {
		return o
	}
	pinches, _ := fitting.Observed()
	now := correction.Remark{Comfort: o.Comfort, Pain: o.Pain, Decision: o.Decision}
	for _, s := range o.Saw {
		if slices.Contains([]string{correction.Sickles, correction.Sinks, correction.BoxBulges, correction.HeelLoose}, s) {
			now.Saw = append(now.Saw, s)
		}
	}
	for _, p := range o.Pinches {
		if slices.Contains(pinches, p) {
			now.Pinches = append(now.Pinches, p)
		}
	}
	return now
}

// word returns the code of a word that somebody typed and that tells conditions apart, so
// that what was alike stays alike; the word itself where words are kept.
func (d *deidentifier) word(kind, typed string) string {
	if d.words {
		return typed
	}
	return d.codes.of(kind, typed)
}

// known returns a word where it is one of a list, and else its code.
func (d *deidentifier) known(kind, word string, list []string) string {
	if slices.Contains(list, word) {
		return word
	}
	return d.word(kind, word)
}
