// Package secondscreen shows a recording in progress in a browser: a page for the fitter,
// live, and a page for the dancer, who sees a relevé when it is done.
//
// A [Server] serves both pages and sends them the last state given to [Server.Publish],
// over several recordings. The pages name no dancer and contain nothing about her pain.
package secondscreen

import (
	"time"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
)

// Stage is the step shown on the pages.
type Stage string

const (
	Waiting   Stage = ""          // nothing is recorded yet
	Pressing  Stage = "pressing"  // platforms are to be pressed on a pad
	Recording Stage = "recording" // relevés are recorded
	Between   Stage = "between"   // a recording has ended, and another one follows
	Done      Stage = "done"      // no other recording follows
)

// State is the content of the pages. Lengths are in mm, [medial, over], from the centroid
// of the platform.
type State struct {
	Stage    Stage
	Feedback string    // what the dancer may see: none, after or live, as in device.Metadata; "" counts as after
	Shoe     string    // code of the shoe that is recorded, or comes next
	Guided   bool      // part of a guided fitting, which continues by a key
	Planned  int       // relevés of each foot in this shoe; 0 where nothing is planned
	Large    string    // one or two words in large letters while Pressing
	Text     string    // one line for the fitter alone; "" for the text of the stage
	Feet     [2]*Foot  // by device.Foot; nil for a foot that is not recorded
	RestEnds time.Time // end of the rest; the zero time without a rest
	Shoes    []Shoe    // the shoes so far, side by side
	Frame    time.Time // arrival of the last frame in it; the zero time where there is none
}

// Foot is one foot of a recording in progress.
type Foot struct {
	Outline, Kern platform.Polygon
	Away          bool                // no frames arrive
	LoadN         float64             // N
	At            *platform.Point     // centre of pressure; nil where there is no load
	Where         measure.Verdict     // where At lies now; "" where there is no load
	Misses        []measure.Direction // of Where, as screen.Place has them
	Counted       int                 // relevés that count
	Last          *Releve             // the last relevé that has ended; nil before the first
}

// Releve is one foot of a relevé that has ended.
type Releve struct {
	N         int
	Settled   bool // the load settled; otherwise At and Verdict are not set
	Discarded bool
	At        platform.Point // mean centre of pressure of the hold
	Verdict   measure.Verdict
	Misses    []measure.Direction // as in measure.Hold
}

// Shoe is the result of one shoe, for the comparison side by side.
type Shoe struct {
	Code string
	Feet [2]*Standing // by device.Foot; nil for a foot that was not measured in it
}

// Standing is the mean of the relevés of one foot in one shoe.
type Standing struct {
	Outline, Kern platform.Polygon
	At            platform.Point
	Verdict       measure.Verdict
	Misses        []measure.Direction // as in measure.Hold
	Releves       int
}

// up reports whether a platform carries load.
func (s *State) up() bool {
	for _, f := range s.Feet {
		if f != nil && f.At != nil {
			return true
		}
	}
	return false
}

// enough reports whether every foot has as many relevés as planned.
func (s *State) enough() bool {
	for _, f := range s.Feet {
		if f != nil && f.Counted < s.Planned {
			return false
		}
	}
	return s.Planned > 0
}

// live reports whether the dancer sees live data.
func (s *State) live() bool { return s.Feedback == device.FeedbackLive }
