package device

import (
	"fmt"
	"time"
)

// Foot is the foot that a strip is fixed under.
type Foot uint8

const (
	Left  Foot = 0
	Right Foot = 1
	// NoFoot is the Foot of an event that concerns the whole recording.
	NoFoot Foot = 0xFF
)

// Feet lists both feet in the order in which they are shown everywhere.
var Feet = [2]Foot{Left, Right}

// String returns "left", "right", or "" for NoFoot.
func (f Foot) String() string {
	switch f {
	case Left:
		return "left"
	case Right:
		return "right"
	}
	return ""
}

// Other returns the other foot.
func (f Foot) Other() Foot { return 1 - f }

// ParseFoot reads "left", "right", or "" for NoFoot.
func ParseFoot(s string) (Foot, error) {
	switch s {
	case "left":
		return Left, nil
	case "right":
		return Right, nil
	case "":
		return NoFoot, nil
	}
	return NoFoot, fmt.Errorf("foot %q: write left or right", s)
}

// MarshalText writes a Foot in JSON and TOML as String does.
func (f Foot) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// UnmarshalText reads a Foot as ParseFoot does.
func (f *Foot) UnmarshalText(b []byte) (err error) {
	*f, err = ParseFoot(string(b))
	return err
}

// NoSeq is the Seq of a frame in a format without frame numbers.
const NoSeq = -1

// Frame is one reading of every cell of one strip.
type Frame struct {
	Foot      Foot
	Seq       int64    // frame number, unwrapped, so that a jump gives the number of lost frames; NoSeq where there is none
	TimeUS    uint64   // the strip's own clock at the middle of the scan, unwrapped, µs
	ArrivalNS int64    // the host's clock when the last byte had arrived, ns since 1970; it never runs backwards
	Restarted bool     // the strip has restarted since the frame before: TimeUS has advanced by the host's clock
	AfterLoss bool     // frames before it are lost, because the recording is damaged
	Counts    []uint16 // converter counts in the order of the strip's scan, length rows·cols
}

// Source gives frames one after the other. Serial ports, simulated strips,
// recordings and CSV files are Sources.
//
// Next overwrites f with the next frame and reuses f.Counts; a caller that keeps a
// frame must copy it. Frames of one foot come in the order of the strip's clock,
// and those of the two feet interleave. At the end Next returns io.EOF.
type Source interface {
	Next(f *Frame) error
}

// EventKind is the kind of an Event.
type EventKind string

const (
	Gap       EventKind = "gap"       // frames are missing for LengthS before TimeNS
	Note      EventKind = "note"      // a person wrote Text
	Discard   EventKind = "discard"   // the last relevé before TimeNS is not to be used
	Reconnect EventKind = "reconnect" // a line that was out has come back
	// Press: the platform of Foot was pressed on a soft pad for LengthS before TimeNS.
	// With NoFoot it is not known which one was pressed; the load is no relevé.
	Press EventKind = "press"
)

// TakenBack is the Cause of a Discard event that cancels the last Discard in force
// and discards no relevé.
const TakenBack = "taken back"

// Event is anything at one time of a recording other than a frame.
type Event struct {
	TimeNS  int64 // host clock, ns since 1970
	Foot    Foot  // NoFoot for an event that concerns the whole recording
	Kind    EventKind
	Cause   string
	LengthS float64 // s
	Text    string
}

// Check returns an error where the times of the event are impossible: before 1970, or
// not a number.
func (e Event) Check() error {
	if e.TimeNS < 0 || !(0 <= e.LengthS && e.LengthS <= time.Duration(e.TimeNS).Seconds()) {
		return fmt.Errorf("an event with impossible times (%.40q of %v s up to %d ns since 1970)", e.Kind, e.LengthS, e.TimeNS)
	}
	return nil
}
