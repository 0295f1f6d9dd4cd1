package intake

import (
	"cmp"
	"context"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

// Setup describes a recording before it is made: strips, shoes, dancer and conditions. A
// field that was not given is "" or 0.
type Setup struct {
	Strips                    []string // names in the logbook or files
	Shoe, LeftShoe, RightShoe string   // codes in the logbook or files
	Dancer, Visit             string   // code, and "today", "last" or a visit's name
	Support, Rise             string
	Position, Floor           string
	Feedback                  string   // what the dancer sees of the numbers
	Fixing                    string   // how the strips are fixed to the shoes, in words
	Marks                     string   // of the physical shoes, one a recorded foot, the left one first: 1,2
	Padding                   []string // what is between foot and shoe, each [FOOT:]WHAT
	MassKG                    float64
	SameMounting              string // a recording since which no strip was taken off: number, "last" or file
	Logbook                   lookup.Folder

	Imported time.Time      // when the recording is imported; the zero time where it is recorded now
	Into     *logbook.Visit // the visit that the recording goes into, once FindVisit has been called; nil for none

	found []*device.Strip  // the strips that were found on ports; nil for those that are named
	known *[2]*device.Side // strips and shoes that were read before; nil for those that are named
}

// FindVisit finds the visit that the recording goes into, if one was named. The
// visit's conditions apply where the person gave none.
func (s *Setup) FindVisit(now time.Time) error {
	if s.Visit == "" {
		return nil
	}
	if s.Dancer == "" {
		return usage.Errorf("--visit %s: whose visit? Say --dancer CODE too", s.Visit)
	}
	return s.Logbook.With(func(l *logbook.Logbook) error {
		v, err := lookup.Visit(l, s.Dancer, s.Visit, now)
		if err != nil {
			return err
		}
		d, err := l.Dancer(v.Dancer)
		if err := cmp.Or(err, lookup.CheckConsent(d)); err != nil {
			return err
		}
		s.Into, s.Dancer = &v, v.Dancer
		s.Support, s.Rise = cmp.Or(s.Support, v.Support), cmp.Or(s.Rise, v.Rise)
		s.Position, s.Floor = cmp.Or(s.Position, v.Position), cmp.Or(s.Floor, v.Floor)
		s.MassKG = cmp.Or(s.MassKG, v.MassKG)
		return nil
	})
}

// Metadata reads the profiles and describes a recording that starts at a time. feet
// are the feet known to be recorded: where no strip was named, the logbook's only
// strip for each of them is taken.
func (s *Setup) Metadata(ctx context.Context, started time.Time, feet [2]bool) (m device.Metadata, err error) {
	m = device.Metadata{
		Dancer: s.Dancer, Started: started, Software: "aplomb " + software.This().String(),
		Support: s.Support, Rise: s.Rise, Position: s.Position, Floor: s.Floor, Feedback: s.Feedback, MassKG: s.MassKG,
	}
	if err := s.checkWords(); err != nil {
		return m, err
	}
	if s.Into != nil {
		m.Visit = s.Into.Name()
		if !s.Into.Day.Around(started) {
			return m, s.otherDayError(logbook.DayOf(started))
		}
	}
	mounted := started.UTC().Format(time.RFC3339Nano)
	if !s.Imported.IsZero() { // two imports are two mountings, even with one start
		mounted += ", imported " + s.Imported.UTC().Format(time.RFC3339Nano)
	}
	if m.Sides, err = s.Sides(ctx, feet); err != nil {
		return m, err
	}
	for _, side := range m.Sides {
		if side != nil {
			side.Clock, side.Fixing = "strip", s.Fixing
			side.Mounting = side.Strip.Name + " mounted " + mounted
		}
	}
	if err := cmp.Or(s.mark(&m), s.pad(&m)); err != nil {
		return m, err
	}
	return m, s.keepMounting(ctx, &m)
}

// otherDayError returns the error that the visit was on another day than the
// recording.
func (s *Setup) otherDayError(day logbook.Day) error {
	if s.Imported.IsZero() {
		return usage.Errorf("--visit %s: visit %s of dancer %s was on another day: aplomb visit add --dancer %s begins one today, %s",
			s.Visit, s.Into.Name(), s.Dancer, text.Quoted(s.Dancer), day)
	}
	return usage.Errorf("--visit %s: visit %s of dancer %s was not on %s: --started says when it was recorded, such as %sT10:00",
		s.Visit, s.Into.Name(), s.Dancer, day, s.Into.Day)
}

// CheckTarget returns a usage error for a recording with neither a file nor a visit as
// its destination.
func (s *Setup) CheckTarget(out string) error {
	if out == "" && s.Visit == "" {
		return usage.Errorf("--visit VISIT or --out FILE is missing: where the recording goes, into the logbook or a file")
	}
	return nil
}
