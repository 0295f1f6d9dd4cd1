package deidentify

import (
	"slices"
	"time"

	"aplomb/device"
)

// ageStep is the step of the ages of calibrations, days. A strip is used by many dancers,
// and its calibration has one day: exact ages would reveal the difference between the
// shifts of two dancers. It is our own choice.
const ageStep = 30

// notAsMade is the checksum of a calibration that was changed after it was made. It
// belongs to no calibration: a random checksum equals it once in 2^64.
const notAsMade = "0000000000000000"

// shoe returns a shoe without data that identify it. Its dimensions are retained.
func (d *deidentifier) shoe(s *device.Shoe) *device.Shoe {
	now := *s
	now.Code = d.codes.of("shoe", s.Code)
	now.Padding = d.word("padding", s.Padding)
	return &now
}

// strip returns a strip without data that identify it. made is the day that replaces that
// of its calibration.
func (d *deidentifier) strip(s *device.Strip, made device.Date) *device.Strip {
	now := *s
	now.Name = d.codes.of("strip", s.Name)
	c := &now.Calibration
	c.MadeFor = d.codes.of("strip", s.Calibration.MadeFor)
	if c.Date != (device.Date{}) {
		c.Date = made
	}
	switch {
	case c.Hash == "":
	case c.Hash == s.Calibration.Sum(s):
		c.Hash = c.Sum(&now)
	default:
		c.Hash = notAsMade
	}
	return &now
}

// use is one recording with a strip.
type use struct{ started, moved time.Time }

// madeFor returns the day that replaces that of a calibration: its age at the first of
// the uses, in steps of ageStep, before the moved day of that use. The age is the next
// lower or higher step with which the calibration has the same doubts in every recording
// as before, else the exact one to a day. (The time of day is moved as well, so that even
// the exact one can fall on the other side of a midnight.)
func (d *deidentifier) madeFor(s *device.Strip, uses []use) device.Date {
	date := s.Calibration.Date
	if date == (device.Date{}) {
		return date
	}
	first := slices.MinFunc(uses, func(a, b use) int { return a.started.Compare(b.started) })
	dayOf := func(t time.Time) time.Time {
		y, m, d := t.UTC().Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	age := int(dayOf(first.started).Sub(time.Date(date.Year, date.Month, date.Day, 0, 0, 0, 0, time.UTC)) / (24 * time.Hour))
	lower := age - ((age%ageStep)+ageStep)%ageStep
	for _, a := range []int{lower, lower + ageStep, age, age - 1, age + 1} {
		made := device.DateOf(dayOf(first.moved).AddDate(0, 0, -a))
		if d.sameDoubts(s, made, uses) {
			return made
		}
	}
	return device.DateOf(dayOf(first.moved).AddDate(0, 0, -age))
}

// sameDoubts reports whether a calibration of that day has the same doubts in the moved
// recordings as the original one in the original recordings.
func (d *deidentifier) sameDoubts(s *device.Strip, made device.Date, uses []use) bool {
	now := d.strip(s, made)
	for _, u := range uses {
		if !slices.EqualFunc(s.CalibrationDoubts(u.started), now.CalibrationDoubts(u.moved), func(a, b device.CalibrationDoubt) bool { return a.Fault == b.Fault }) {
			return false
		}
	}
	return true
}
