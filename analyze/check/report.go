// Package check reports whether a recording is complete and undamaged, which faults the
// strips have, and the consequences for the measures.
package check

import (
	"aplomb/analyze/cells"
	"aplomb/analyze/measure"
)

// Report is the result of a check. Its JSON is one line of check --json; values
// that are not known are absent.
type Report struct {
	File     string                      `json:"file"`
	Whole    bool                        `json:"whole"`   // no missing frame is known
	Trusted  bool                        `json:"trusted"` // no finding is grave
	Feet     measure.PerFoot[FootReport] `json:"feet"`
	Findings []Finding                   `json:"findings"` // of the file, of both feet, of the left foot, of the right foot

	Provenance *measure.Provenance `json:"provenance,omitempty"`
}

// Finding is one fact about a recording that its user should know.
type Finding struct {
	About  string       `json:"about"` // file, both, left or right
	Kind   Kind         `json:"kind"`
	Cells  []cells.Cell `json:"-"`
	Places [][2]int     `json:"cells,omitempty"` // row from the back and column from the little-toe side, from 1
	SinceS *float64     `json:"since_s,omitempty"`
	Share  *float64     `json:"share,omitempty"` // see cells.Fault
	Text   string       `json:"text"`
	Means  string       `json:"means,omitempty"` // consequence for the measures
	Grave  bool         `json:"grave"`           // a measure of this recording is unreliable
}

// Kind is the kind of a finding. Its value is the one in JSON: one of the constants
// below or a cells.FaultKind.
type Kind string

// Kinds of findings other than faults of cells.
const (
	Corrected       Kind = "corrected"   // a file beside the recording corrects its metadata
	CutShort        Kind = "cut"         // the file ends early
	Damaged         Kind = "damaged"     // the file was changed after it was written
	StripsSwapped   Kind = "swapped"     // the strips seem to be exchanged between the shoes
	LoadTooHigh     Kind = "heavy"       // the load exceeds the dancer's weight
	NothingReceived Kind = "no_frames"   // no frame of a strip
	FramesMissing   Kind = "missing"     // frames are missing
	BeyondConverter Kind = "beyond"      // counts above the range of the strip's converter
	Unnumbered      Kind = "unnumbered"  // frames have no sequence numbers
	NoClock         Kind = "no_clock"    // the strip sends no time
	ClockWrong      Kind = "clock"       // the strip's clock runs wrong
	UnevenFrames    Kind = "jitter"      // the intervals between frames vary by the strip's own clock
	RateTooLow      Kind = "slow"        // too few frames a second for sway
	PartlyCovered   Kind = "partly"      // the strip does not cover the platform
	OffOutline      Kind = "off_outline" // load outside the platform
	PressUnused     Kind = "press"       // a pad press was not used for the seat
	PressFound      Kind = "press_found" // a pad press without a mark
	SeatUnfound     Kind = "seat"        // the relevés do not determine the seat, and there is no pad press
	StripMoved      Kind = "strip_moved" // the strip moved between the first pad press and the last
)

// FootReport describes the recording of one foot.
type FootReport struct {
	Strip   string  `json:"strip"`
	Shoe    string  `json:"shoe"`
	Mark    int     `json:"mark,omitempty"`    // of the physical shoe in its pair, 1 or 2
	Padding string  `json:"padding,omitempty"` // what is between foot and shoe, in words
	Fixing  string  `json:"fixing,omitempty"`  // how the strip is fixed to the shoe, in words
	Frames  int64   `json:"frames"`
	Lost    *int64  `json:"lost,omitempty"` // absent where frames are not numbered
	SpanS   float64 `json:"span_s"`
	Gaps    []Gap   `json:"gaps,omitempty"`
	// RateHz includes lost frames. IntervalSDMS is the standard deviation of the
	// interval between frames by the strip's clock, ArrivalSDMS that by the computer's
	// clock, and LongestWaitMS the longest interval by the computer's clock.
	RateHz        *float64     `json:"rate_hz,omitempty"`
	IntervalSDMS  *float64     `json:"interval_sd_ms,omitempty"`
	ArrivalSDMS   *float64     `json:"arrival_sd_ms,omitempty"`
	LongestWaitMS *float64     `json:"longest_wait_ms,omitempty"`
	Covered       float64      `json:"covered"`            // share of the platform under the strip, 0..1
	Measured      *int         `json:"measured,omitempty"` // number of relevés that analyze measures
	Felt          *LoadedCells `json:"felt,omitempty"`
	Zero          *ZeroDrift   `json:"zero,omitempty"`
	Seat          *SeatReport  `json:"seat,omitempty"` // absent where neither press nor holds determine it
}

// Gap is an interval without frames that was noted while recording.
type Gap struct {
	AtS     float64 `json:"at_s"` // its end, s since the recording's first frame
	LengthS float64 `json:"length_s"`
	Cause   string  `json:"cause"`
}

// LoadedCells counts the cells under the platform that have carried load.
type LoadedCells struct {
	Cells int `json:"cells"` // that have carried load
	Of    int `json:"of"`    // at least partly inside the outline
}

// ZeroDrift is the change of the zeros over the recording, and the largest change
// between one rest and the next; see cells.ZeroDrift.
type ZeroDrift struct {
	Counts  float64 `json:"counts"`   // of the cell with the largest change
	LoadN   float64 `json:"load_n"`   // of all cells together
	ShiftMM float64 `json:"shift_mm"` // of the centre of pressure
	StepN   float64 `json:"step_n"`
	StepMM  float64 `json:"step_mm"`
}

// add adds a finding.
func (r *Report) add(f Finding) {
	for _, c := range f.Cells {
		f.Places = append(f.Places, [2]int{c.Row + 1, c.Col + 1})
	}
	r.Findings = append(r.Findings, f)
}
