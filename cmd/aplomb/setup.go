package main

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/recording"
)

// setup is what the person who records says of strips, shoes, dancer and conditions.
type setup struct {
	strips                    []string
	shoe, leftShoe, rightShoe string
	dancer                    string
	support, rise             string
	position, floor           string
	massKG                    float64
	sameMounting              string
}

var (
	supports = []string{"barre", "hand", "none"}
	rises    = []string{"roll-up", "spring", "step"}
)

func (s *setup) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringArrayVar(&s.strips, "strip", nil, "strip profile `FILE`, once for each foot")
	f.StringVar(&s.shoe, "shoe", "", "shoe `FILE`, worn on every recorded foot")
	f.StringVar(&s.leftShoe, "left-shoe", "", "shoe `FILE` of the left foot")
	f.StringVar(&s.rightShoe, "right-shoe", "", "shoe `FILE` of the right foot")
	f.StringVar(&s.dancer, "dancer", "", "the dancer's `CODE`, never a name")
	f.StringVar(&s.support, "support", "", "`WHAT` the dancer holds on to: barre, hand or none")
	f.StringVar(&s.rise, "rise", "", "`HOW` the dancer rises: roll-up, spring or step")
	f.StringVar(&s.position, "position", "", "`POSITION` of the feet, such as first or parallel")
	f.StringVar(&s.floor, "floor", "", "`WHAT` the floor is made of")
	f.Float64Var(&s.massKG, "mass-kg", 0, "the dancer's body mass in `KG`")
	f.StringVar(&s.sameMounting, "same-mounting-as", "", "recording `FILE` since which no strip was taken off")
	for _, name := range []string{"strip", "shoe", "left-shoe", "right-shoe"} {
		complete(cmd, name, endingIn("toml"))
	}
	for _, name := range []string{"dancer", "position", "floor", "mass-kg"} {
		complete(cmd, name, cobra.NoFileCompletions)
	}
	complete(cmd, "same-mounting-as", endingIn("mcap"))
	complete(cmd, "support", oneOf(supports...))
	complete(cmd, "rise", oneOf(rises...))
}

// meta reads the profiles and describes the recording that starts at a time.
func (s *setup) meta(started time.Time) (recording.Meta, error) {
	m := recording.Meta{
		Dancer: s.dancer, Started: started, Software: "aplomb " + version,
		Support: s.support, Rise: s.rise, Position: s.position, Floor: s.floor, MassKG: s.massKG,
	}
	for _, c := range []struct {
		flag, value string
		allowed     []string
	}{
		{"support", s.support, supports},
		{"rise", s.rise, rises},
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
	if len(s.strips) == 0 {
		return m, misused("--strip FILE is missing: the profile of the strip under each foot")
	}
	for _, path := range s.strips {
		strip, err := device.ReadStrip(path)
		if err != nil {
			return m, err
		}
		if other := m.Sides[strip.Foot]; other != nil {
			return m, misused("--strip %s: it is for the %s foot, and so is strip %s", path, strip.Foot, other.Strip.Name)
		}
		shoe, err := s.shoeOf(strip.Foot)
		if err != nil {
			return m, err
		}
		m.Sides[strip.Foot] = &recording.Side{
			Strip: strip, Shoe: shoe, Clock: "strip",
			Mounting: fmt.Sprintf("%s mounted %s", strip.Name, started.UTC().Format(time.RFC3339Nano)),
		}
	}
	for f, path := range [2]string{s.leftShoe, s.rightShoe} {
		if path != "" && m.Sides[f] == nil {
			return m, misused("--%s-shoe %s: no --strip for the %s foot", device.Foot(f), path, device.Foot(f))
		}
	}
	return m, s.keepMounting(&m)
}

func (s *setup) shoeOf(f device.Foot) (*device.Shoe, error) {
	path := s.leftShoe
	if f == device.Right {
		path = s.rightShoe
	}
	if path == "" {
		path = s.shoe
	}
	if path == "" {
		return nil, misused("no shoe for the %s foot: --shoe FILE, or --%s-shoe FILE", f, f)
	}
	return device.ReadShoe(path)
}

// keepMounting takes over the mountings of an earlier recording, where strip
// and shoe are the same.
func (s *setup) keepMounting(m *recording.Meta) error {
	if s.sameMounting == "" {
		return nil
	}
	r, err := recording.Open(s.sameMounting)
	if err != nil {
		return err
	}
	defer r.Close()
	before := r.Meta()
	for _, f := range device.Feet {
		now, then := m.Sides[f], before.Sides[f]
		switch {
		case now == nil:
			continue
		case then == nil:
			return misused("--same-mounting-as %s: it has no %s foot", s.sameMounting, f)
		case then.Strip.Name != now.Strip.Name || then.Shoe.Code != now.Shoe.Code:
			return misused("--same-mounting-as %s: there the %s foot had strip %s under shoe %s, now %s under %s",
				s.sameMounting, f, then.Strip.Name, then.Shoe.Code, now.Strip.Name, now.Shoe.Code)
		}
		now.Mounting = then.Mounting
	}
	return nil
}
