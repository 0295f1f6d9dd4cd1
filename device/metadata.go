package device

import (
	"cmp"
	"errors"
	"fmt"
	"time"
)

// Metadata describes a recording: the dancer, the time, the conditions, and by
// foot the strip and the shoe.
type Metadata struct {
	Dancer   string // a code, never a name
	Visit    string // the visit of the dancer that it was made in; "" outside a logbook
	Started  time.Time
	Software string // the program that wrote the recording, with its version
	Support  string // barre, hand, none
	Rise     string // roll-up, spring, step
	Position string
	Floor    string
	Feedback string   // what the dancer sees of the numbers: none, after, live; "" where unknown
	MassKG   float64  // the dancer's mass, kg; 0 where it is not known
	Sides    [2]*Side // by Foot; nil for a foot without a strip
}

// Feedbacks are the words for what the dancer sees of the numbers.
var Feedbacks = [...]string{"none", "after", FeedbackLive}

// FeedbackLive is the Feedback of a recording in which the dancer sees the numbers while
// she stands. It is practice, and no measurement of a shoe.
const FeedbackLive = "live"

// Side describes one foot of a recording: the strip, the shoe that it is fixed under, and
// the transmission of the frames.
type Side struct {
	Strip    *Strip
	Shoe     *Shoe
	Mark     int    // of the physical shoe in its pair, 1 or 2; 0 where unknown
	Padding  string // what is between foot and shoe, in the user's words, instead of Shoe.Padding; "" where unknown
	Mounting string // identifies one fixing of the strip under the shoe
	Fixing   string // how the strip is fixed to the shoe, in the user's words; "" where unknown
	Clock    string // the clock of Frame.TimeUS: strip, or host where the strip has none
	Format   string // the format that the frames came in: binary, text, csv
	Baud     int    // speed of the serial line, bits/s; 0 where it is not known
}

// Worn returns the shoe as it is worn in the recording: with the padding of the side,
// where that is set.
func (s *Side) Worn() *Shoe {
	worn := *s.Shoe
	worn.Padding = cmp.Or(s.Padding, worn.Padding)
	return &worn
}

// Check reports the first fault of the metadata: no strip, a strip without a shoe, a
// strip for the other foot, a mark other than 1 and 2, or an error in a strip or a shoe.
func (m Metadata) Check() error {
	if m.Sides == [2]*Side{} {
		return errors.New("a recording needs a strip on at least one foot")
	}
	for _, foot := range Feet {
		s := m.Sides[foot]
		switch {
		case s == nil:
			continue
		case s.Strip == nil || s.Shoe == nil:
			return fmt.Errorf("%s foot: a recording needs its strip and its shoe", foot)
		case s.Strip.Foot != foot:
			return fmt.Errorf("%s foot: strip %s is for the %s foot", foot, s.Strip.Name, s.Strip.Foot)
		case s.Mark < 0 || s.Mark > 2:
			return fmt.Errorf("%s foot: mark %d: the shoes of a pair are marked 1 and 2", foot, s.Mark)
		}
		if err := cmp.Or(s.Strip.Check(), s.Shoe.Check()); err != nil {
			return fmt.Errorf("%s foot: %w", foot, err)
		}
	}
	return nil
}
