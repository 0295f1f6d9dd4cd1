package logbook

import "time"

// Day is a date without a time of day, written 2026-03-14. As texts, days sort by
// time.
type Day string

// DayOf returns the date of t in the time zone of t.
func DayOf(t time.Time) Day { return Day(t.Format(time.DateOnly)) }

// ParseDay reads a date.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return "", invalid("date %.40q: write it as 2026-03-14", s)
	}
	return DayOf(t), nil
}

// firstDay is the first day on which anything can have been recorded: recordings count
// time from 1970.
const firstDay Day = "1970-01-01"

// CheckPast returns an ErrInvalid where nothing can have been done on the day yet, or
// where it lies too far back.
func (d Day) CheckPast(today Day) error {
	switch {
	case d > today:
		return invalid("%s lies in the future: today is %s", d, today)
	case d < firstDay:
		return invalid("%s lies before %s: is the year right?", d, firstDay)
	}
	return nil
}

// Time returns the beginning of the day in UTC, for counting days, and the zero
// time where d is not a date.
func (d Day) Time() time.Time {
	t, _ := time.Parse(time.DateOnly, string(d))
	return t
}

// Around reports whether t falls on the day or on one beside it: a visit can end
// after midnight, and the clocks can be in different time zones.
func (d Day) Around(t time.Time) bool {
	days := DayOf(t).Time().Sub(d.Time()) / (24 * time.Hour)
	return -1 <= days && days <= 1
}
