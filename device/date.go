package device

import (
	"errors"
	"fmt"
	"time"
)

// Date is a day of the calendar without a time zone; in TOML it is a local date,
// such as 2026-03-14. The zero Date means that there is none.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// DateOf returns the day of t in the location of t.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// String returns the date as 2026-03-14, "" for the zero Date.
func (d Date) String() string {
	if d == (Date{}) {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// MarshalTOML writes the date as a TOML local date.
func (d Date) MarshalTOML() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalTOML reads a TOML date, and refuses one with a time of day.
func (d *Date) UnmarshalTOML(v any) error {
	t, ok := v.(time.Time)
	if !ok || !t.Equal(time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())) {
		return errors.New("a date is written as 2026-03-14, without quotes and without a time")
	}
	*d = DateOf(t)
	return nil
}

// time returns the beginning of the day in UTC.
func (d Date) time() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }
