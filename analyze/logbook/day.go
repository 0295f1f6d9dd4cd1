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
