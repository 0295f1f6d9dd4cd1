package device

import "fmt"

// Foot says which foot a strip is fixed under.
type Foot uint8

const (
	Left  Foot = 0
	Right Foot = 1
	// NoFoot marks an event that concerns the recording as a whole.
	NoFoot Foot = 0xFF
)

// Feet lists both feet in the order in which everything shows them.
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

// ParseFoot reads what String writes.
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

// MarshalText makes a Foot its name in JSON and TOML.
func (f Foot) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (f *Foot) UnmarshalText(b []byte) (err error) {
	*f, err = ParseFoot(string(b))
	return err
}

// NoSeq is the Seq of a frame from a format that does not number its frames.
const NoSeq = -1

// Frame is one reading of every cell of one strip.
type Frame struct {
	Foot      Foot
	Seq       int64    // packet number, unwrapped, so that a jump counts lost frames; NoSeq where there is none
	TimeUS    uint64   // the strip's own clock at the middle of the scan, unwrapped, µs
	ArrivalNS int64    // the host's clock when the last byte had arrived, ns since 1970, never running backwards
	Restarted bool     // the strip has started to count again since the frame before: TimeUS went on by the host's clock
	Counts    []uint16 // converter counts in the order of the strip's scan, length rows·cols
}

// Source is where frames come from: a port, a simulator, a recording, a CSV file.
//
// Next overwrites f with the next frame and reuses f.Counts, so a caller that
// keeps a frame copies it. Frames of one foot come in the order of the strip's
// clock; the two feet interleave. At the end Next returns io.EOF.
type Source interface {
	Next(f *Frame) error
}

// EventKind says what happened at a moment of a recording.
type EventKind string

const (
	Gap       EventKind = "gap"       // frames are missing; LengthS says for how long
	Note      EventKind = "note"      // somebody wrote Text
	Discard   EventKind = "discard"   // the relevé before this moment is not to be used
	Reconnect EventKind = "reconnect" // the line is back
)

// TakenBack is the Cause of a Discard that takes back the last one that still
// holds, instead of discarding another relevé.
const TakenBack = "taken back"

// Event is something that happened during a recording, other than a frame.
type Event struct {
	TimeNS  int64 // host clock, ns since 1970
	Foot    Foot  // NoFoot where it concerns the whole recording
	Kind    EventKind
	Cause   string
	LengthS float64 // s
	Text    string
}
