package deidentify

import (
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/fitting"
	"aplomb/device/correction"
)

// massStep is the step to which body masses are rounded, kg. No measurement depends on
// the mass. It is our own choice.
const massStep = 5

// bandYears is the width of the bands of ages, in years, and lastBand the age from which
// there is one band. They are our own choice.
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

// dancer returns the retained data of a dancer. The year of birth is replaced by the age
// band, because dates are moved.
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

// visit returns the retained data of a visit.
func (d *deidentifier) visit(o logbook.Visit) logbook.Visit {
	now := o
	now.ID, now.Dancer, now.Day = 0, d.codes.of("dancer", o.Dancer), d.day(o.Dancer, o.Day)
	now.Position, now.Floor = d.word("position", o.Position), d.word("floor", o.Floor)
	now.MassKG, now.Choice = mass(o.MassKG), d.codes.of("shoe", o.Choice)
	now.Study = d.word("study", o.Study)
	if d.words {
		return now
	}
	now.Note, now.ChoiceWhy = "", ""
	now.PainWhere = slices.Clone(o.PainWhere)
	_, sites := fitting.Observed()
	for i := range now.PainWhere {
		if !slices.Contains(sites, now.PainWhere[i].Site) {
			now.PainWhere[i].Site = ""
		}
	}
	return now
}

// study returns the retained data of a study. Its days are left out, because days are
// moved by another constant for each dancer, and the seed as well, since together with the
// codes of the shoes it gives the labels.
func (d *deidentifier) study(o dataset.Study) dataset.Study {
	now := o
	now.Name, now.Declared, now.Seed, now.Unblinded = d.word("study", o.Name), "", 0, false
	now.Shoes, now.Rows, now.Changes = nil, nil, nil
	for _, s := range o.Shoes {
		now.Shoes = append(now.Shoes, study.Shoe{Code: d.codes.of("shoe", s.Code)})
	}
	for _, r := range o.Rows {
		row := study.Row{Dancer: d.codes.of("dancer", r.Dancer)}
		for _, shoe := range r.Order {
			row.Order = append(row.Order, d.codes.of("shoe", shoe))
		}
		now.Rows = append(now.Rows, row)
	}
	for _, c := range o.Changes {
		one := study.Change{Kind: c.Kind, What: c.What, Row: c.Row}
		if d.words {
			one.Reason = c.Reason
		}
		now.Changes = append(now.Changes, one)
	}
	return now
}

// day returns the moved day for a day of a dancer.
func (d *deidentifier) day(dancer string, day logbook.Day) logbook.Day {
	return logbook.DayOf(day.Time().AddDate(0, 0, -d.key.shiftOf(dancer).days))
}

// remark returns the retained data of a remark: choices from a list, and numbers.
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

// word returns the code for free text that distinguishes conditions, so that equal texts
// stay equal; the text itself where words are kept.
func (d *deidentifier) word(kind, typed string) string {
	if d.words {
		return typed
	}
	return d.codes.of(kind, typed)
}

// known returns a word that is in a list unchanged, and the code of any other.
func (d *deidentifier) known(kind, word string, list []string) string {
	if slices.Contains(list, word) {
		return word
	}
	return d.word(kind, word)
}
