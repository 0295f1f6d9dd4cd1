// Package check says whether a recording is sound: whether it is whole, what is
// wrong with the strips it was made with, and what that means for the measures.
package check

import (
	"aplomb/analyze/cells"
	"aplomb/analyze/measure"
)

// Report is what there is to say of one recording. Its JSON is one line of
// check --json; what is not known is absent.
type Report struct {
	File     string                      `json:"file"`
	Whole    bool                        `json:"whole"`   // nothing is known to be missing
	Trusted  bool                        `json:"trusted"` // no finding is grave
	Feet     measure.PerFoot[FootReport] `json:"feet"`
	Findings []Finding                   `json:"findings"` // of the file, of both feet, of the left, of the right one
}

// Finding is one thing about a recording that one should know.
type Finding struct {
	About  string       `json:"about"` // file, both, left or right
	Kind   string       `json:"kind"`  // a cells.Kind, or one of those below
	Cells  []cells.Cell `json:"-"`
	Places [][2]int     `json:"cells,omitempty"` // row from the back and column from the little-toe side, from 1
	SinceS *float64     `json:"since_s,omitempty"`
	Share  *float64     `json:"share,omitempty"` // of what could show it, what does, see cells.Finding
	Text   string       `json:"text"`
	Means  string       `json:"means,omitempty"` // for the measures
	Grave  bool         `json:"grave"`           // a number from this recording should not be trusted
}

// Kinds of findings that are not of cells.
const (
	CutShort        = "cut"         // the file ends before its end
	Damaged         = "damaged"     // the file is not as it was written
	StripsSwapped   = "swapped"     // the strips seem to be under each other's shoe
	LoadTooHigh     = "heavy"       // the strips read more than the dancer weighs
	NothingReceived = "no_frames"   // nothing came from a strip
	FramesMissing   = "missing"     // frames are
	Unnumbered      = "unnumbered"  // frames are not numbered
	NoClock         = "no_clock"    // the strip sends none
	ClockWrong      = "clock"       // the strip's is not to be believed
	UnevenFrames    = "jitter"      // frames come unevenly by the strip's own clock
	RateTooLow      = "slow"        // too few frames for sway
	PartlyCovered   = "partly"      // the strip does not cover the platform
	OffOutline      = "off_outline" // load beside the platform
)

// Foot is what a recording holds of one foot.
type FootReport struct {
	Strip  string  `json:"strip"`
	Shoe   string  `json:"shoe"`
	Frames int64   `json:"frames"`
	Lost   *int64  `json:"lost,omitempty"` // absent where frames are not numbered
	SpanS  float64 `json:"span_s"`
	Gaps   []Gap   `json:"gaps,omitempty"`
	// RateHz counts lost frames in. IntervalSDMS is the scatter of the time from
	// one frame to the next by the strip's clock, ArrivalSDMS by the computer's,
	// and LongestWaitMS the longest there.
	RateHz        *float64     `json:"rate_hz,omitempty"`
	IntervalSDMS  *float64     `json:"interval_sd_ms,omitempty"`
	ArrivalSDMS   *float64     `json:"arrival_sd_ms,omitempty"`
	LongestWaitMS *float64     `json:"longest_wait_ms,omitempty"`
	Covered       float64      `json:"covered"`            // share of the platform under the strip, 0..1
	Measured      *int         `json:"measured,omitempty"` // relevés that analyze measures
	Felt          *LoadedCells `json:"felt,omitempty"`
	Zero          *ZeroDrift   `json:"zero,omitempty"`
}

// Gap is where frames are missing, as it was noted while recording.
type Gap struct {
	AtS     float64 `json:"at_s"` // its end, since the recording's first frame
	LengthS float64 `json:"length_s"`
	Cause   string  `json:"cause"`
}

// Felt says how many of the cells under the platform have carried load.
type LoadedCells struct {
	Cells int `json:"cells"`
	Of    int `json:"of"`
}

// Zero is how far the unloaded zero moved over the recording, and between one
// rest and the next at most.
type ZeroDrift struct {
	Counts  float64 `json:"counts"`   // of the cell that moved farthest
	LoadN   float64 `json:"load_n"`   // of all cells together
	ShiftMM float64 `json:"shift_mm"` // of the centre of pressure
	StepN   float64 `json:"step_n"`
	StepMM  float64 `json:"step_mm"`
}

func (r *Report) add(f Finding) {
	for _, c := range f.Cells {
		f.Places = append(f.Places, [2]int{c.Row + 1, c.Col + 1})
	}
	r.Findings = append(r.Findings, f)
}
