package main

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/software"
	"aplomb/device"
)

// setup is what the person who records says of strips, shoes, dancer and conditions.
type setup struct {
	strips                    []string
	shoe, leftShoe, rightShoe string
	dancer, visit             string
	support, rise             string
	position, floor           string
	massKG                    float64
	sameMounting              string
	book                      book

	imported time.Time      // zero where it is recorded now
	in       *logbook.Visit // that the recording goes into; nil where it goes into none
}

func (s *setup) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.dancer, "dancer", "", "the dancer's `CODE`, never a name")
	f.StringVar(&s.visit, "visit", "", "`VISIT` of the dancer that it goes into: today, last or its name")
	f.StringVar(&s.shoe, "shoe", "", "`SHOE` on every recorded foot, by code or file")
	f.StringVar(&s.leftShoe, "left-shoe", "", "`SHOE` of the left foot")
	f.StringVar(&s.rightShoe, "right-shoe", "", "`SHOE` of the right foot")
	f.StringArrayVar(&s.strips, "strip", nil, "`STRIP` under a foot, by name or file; once for each")
	f.StringVar(&s.support, "support", "", "`WHAT` the dancer holds on to: barre, hand or none")
	f.StringVar(&s.rise, "rise", "", "`HOW` the dancer rises: roll-up, spring or step")
	f.StringVar(&s.position, "position", "", "`POSITION` of the feet, such as first or parallel")
	f.StringVar(&s.floor, "floor", "", "`WHAT` the floor is made of")
	f.Float64Var(&s.massKG, "mass-kg", 0, "the dancer's body mass in `KG`")
	f.StringVar(&s.sameMounting, "same-mounting-as", "", "`RECORDING` since which no strip was taken off: number, last or file")
	s.book.flag(cmd)
	for _, name := range []string{"shoe", "left-shoe", "right-shoe"} {
		complete(cmd, name, orFiles("toml", s.book.codes(shoeCodes)))
	}
	complete(cmd, "strip", orFiles("toml", s.book.codes(stripNames)))
	complete(cmd, "dancer", s.book.codes(dancerCodes))
	complete(cmd, "visit", s.book.codes(visitNames))
	for _, name := range []string{"position", "floor", "mass-kg"} {
		complete(cmd, name, cobra.NoFileCompletions)
	}
	complete(cmd, "same-mounting-as", endingIn("mcap"))
	complete(cmd, "support", oneOf(logbook.Supports[:]...))
	complete(cmd, "rise", oneOf(logbook.Rises[:]...))
}

// find finds the visit that the recording goes into, if any. What was said of
// the visit holds where nothing else is.
func (s *setup) find(now time.Time) error {
	if s.visit == "" {
		return nil
	}
	if s.dancer == "" {
		return misused("--visit %s: whose visit? Say --dancer CODE too", s.visit)
	}
	return s.book.with(func(l *logbook.Logbook) error {
		v, err := findVisit(l, s.dancer, s.visit, now)
		if err != nil {
			return typedWrong(err)
		}
		s.in, s.dancer = &v, v.Dancer
		s.support, s.rise = cmp.Or(s.support, v.Support), cmp.Or(s.rise, v.Rise)
		s.position, s.floor = cmp.Or(s.position, v.Position), cmp.Or(s.floor, v.Floor)
		s.massKG = cmp.Or(s.massKG, v.MassKG)
		return nil
	})
}

// meta reads the profiles and describes the recording that starts at a time.
// feet are those that are recorded, for which strips are chosen where none are
// named.
func (s *setup) meta(ctx context.Context, started time.Time, feet [2]bool) (device.Metadata, error) {
	m := device.Metadata{
		Dancer: s.dancer, Started: started, Software: "aplomb " + software.This().String(),
		Support: s.support, Rise: s.rise, Position: s.position, Floor: s.floor, MassKG: s.massKG,
	}
	for _, c := range []struct {
		flag, value string
		allowed     []string
	}{
		{"support", s.support, logbook.Supports[:]},
		{"rise", s.rise, logbook.Rises[:]},
	} {
		if c.value != "" && !slices.Contains(c.allowed, c.value) {
			return m, misused("--%s %q: one of %s", c.flag, c.value, strings.Join(c.allowed, ", "))
		}
	}
	for _, c := range [][2]string{{"dancer", s.dancer}, {"position", s.position}, {"floor", s.floor}} {
		if strings.ContainsFunc(c[1], unicode.IsControl) {
			return m, misused("--%s %q: write it without line ends and other control characters", c[0], c[1])
		}
	}
	if !(s.massKG >= 0 && s.massKG <= 300) {
		return m, misused("--mass-kg %v: a body mass, up to 300 kg", s.massKG)
	}
	if s.in != nil {
		m.Visit = s.in.Name()
		if !s.in.Day.Around(started) {
			return m, s.otherDay(logbook.DayOf(started))
		}
	}
	mounted := started.UTC().Format(time.RFC3339Nano)
	if !s.imported.IsZero() { // who says the same time of two still has two
		mounted += ", imported " + s.imported.UTC().Format(time.RFC3339Nano)
	}
	strips, err := s.readStrips(ctx, feet)
	if err != nil {
		return m, err
	}
	for _, strip := range strips {
		if other := m.Sides[strip.Foot]; other != nil {
			return m, misused("--strip %s: it is for the %s foot, and so is strip %s", strip.Name, strip.Foot, other.Strip.Name)
		}
		shoe, err := s.shoeOf(ctx, strip.Foot)
		if err != nil {
			return m, err
		}
		m.Sides[strip.Foot] = &device.Side{
			Strip: strip, Shoe: shoe, Clock: "strip",
			Mounting: strip.Name + " mounted " + mounted,
		}
	}
	for f, typed := range [2]string{s.leftShoe, s.rightShoe} {
		if typed != "" && m.Sides[f] == nil {
			return m, misused("--%s-shoe %s: no --strip for the %s foot", device.Foot(f), typed, device.Foot(f))
		}
	}
	return m, s.keepMounting(ctx, &m)
}

// otherDay says that a visit is not of the day that is recorded on.
func (s *setup) otherDay(day logbook.Day) error {
	if s.imported.IsZero() {
		return misused("--visit %s: visit %s of dancer %s was on another day: aplomb visit add --dancer %s begins one today, %s",
			s.visit, s.in.Name(), s.dancer, asTyped(s.dancer), day)
	}
	return misused("--visit %s: visit %s of dancer %s was not on %s: --started says when it was recorded, such as %sT10:00",
		s.visit, s.in.Name(), s.dancer, day, s.in.Day)
}
