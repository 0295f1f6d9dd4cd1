// Package analyze turns a recording into numbers: every relevé with its
// centre of pressure, contact share, sway and verdict, each with how sure it is.
//
// It reads a recording once and keeps a trace of it, 24 bytes a frame, and a
// pressure map for every tenth of a second under load (package trace). In the
// trace relevés are found (package releve); from the maps of their holds come
// the measures (package field). Package compare sets recordings against each other.
package analyze

import (
	"aplomb/analyze/budget"
	"aplomb/analyze/sway"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/platform"
)

// PerFoot holds something for each foot, nil where a foot has none.
type PerFoot[T any] struct {
	Left  *T `json:"left,omitempty"`
	Right *T `json:"right,omitempty"`
}

// Of returns what is held for foot f.
func (p PerFoot[T]) Of(f device.Foot) *T {
	if f == device.Left {
		return p.Left
	}
	return p.Right
}

// Set holds v for foot f.
func (p *PerFoot[T]) Set(f device.Foot, v T) {
	if f == device.Left {
		p.Left = &v
	} else {
		p.Right = &v
	}
}

// Result is what one recording gave. Its JSON is one line of analyze --json.
type Result struct {
	Recording Recording         `json:"recording"`
	Platforms PerFoot[Platform] `json:"platforms"`
	Settings  Settings          `json:"settings"`
	Releves   []Releve          `json:"releves"` // by n, then left before right
	Warnings  []string          `json:"warnings"`

	Meta   device.Metadata   `json:"-"`
	Events []device.Event    `json:"-"`
	Traces [2][]trace.Sample `json:"-"` // by foot; nil unless Options.KeepTrace

	Unloaded [2]bool `json:"-"` // by foot: the strip was seen unloaded, so its zero is known
}

// Recording says which recording a Result is of.
type Recording struct {
	File      string           `json:"file"`
	Dancer    string           `json:"dancer,omitempty"`
	Shoes     PerFoot[string]  `json:"shoes"`
	Mountings PerFoot[string]  `json:"mountings"`
	Feet      PerFoot[FootLog] `json:"feet"`
}

// FootLog counts what arrived from one strip.
type FootLog struct {
	Frames int     `json:"frames"`
	Lost   *int64  `json:"lost,omitempty"` // absent where the format does not number its frames
	RateHz float64 `json:"rate_hz"`        // frames sent a second, lost ones included
	SpanS  float64 `json:"span_s"`
}

// Platform is the body the dancer stands on, one foot.
type Platform struct {
	AreaMM2 float64          `json:"area_mm2"`
	Kern    platform.Polygon `json:"kern_mm"`
	Covered float64          `json:"covered"` // share of the outline under the strip, 0..1

	Outline platform.Polygon `json:"-"`
}

// Status says whether a relevé could be measured.
type Status string

const (
	Measured Status = "measured"
	Aborted  Status = "aborted" // the load never settled, or its place is not known: reported, not measured
)

// Verdict says where the dancer stands, as far as the uncertainty lets it.
type Verdict string

const (
	Over           Verdict = "over"              // inside the kern
	NotOver        Verdict = "not_over"          // behind it
	TooFarOver     Verdict = "too_far_over"      // in front of it
	ToTheSide      Verdict = "to_the_side"       // beside it
	TooCloseToCall Verdict = "too_close_to_call" // inside or outside: the uncertainty does not tell
)

// Releve is one rise of one foot. Both feet of a pair share n.
type Releve struct {
	N         int         `json:"n"` // by onset, from 1
	Foot      device.Foot `json:"foot"`
	FeetUp    int         `json:"feet_up"` // 1 or 2
	StartS    float64     `json:"start_s"` // load crosses a tenth of the hold's, s since the first frame
	EndS      float64     `json:"end_s"`
	Status    Status      `json:"status"`
	Discarded bool        `json:"discarded,omitempty"` // somebody said while recording not to use it
	*Measures             // nil where aborted
	Warnings  []string    `json:"warnings"`
}

// Counts says whether the relevé is one of those that are measured and compared.
func (r *Releve) Counts() bool { return r.Status == Measured && !r.Discarded }

// Measures are the numbers of one hold.
type Measures struct {
	RiseS           float64        `json:"rise_s"`       // onset to the start of the hold
	HoldStartS      float64        `json:"hold_start_s"` // s since the first frame
	HoldS           float64        `json:"hold_s"`
	LowerS          float64        `json:"lower_s"` // end of the hold to the end of the load
	LoadN           float64        `json:"load_n"`
	OverMM          float64        `json:"over_mm"`
	OverNorm        float64        `json:"over_norm"` // -1 back edge, +1 front edge
	MedialMM        float64        `json:"medial_mm"`
	MedialNorm      float64        `json:"medial_norm"` // -1 little-toe edge, +1 big-toe edge
	ContactMM2      float64        `json:"contact_mm2"`
	ContactShare    float64        `json:"contact_share"` // 0..1
	KernRatio       float64        `json:"kern_ratio"`    // up to 1: inside the kern
	EdgeMM          float64        `json:"edge_mm"`       // to the outline, negative outside
	Verdict         Verdict        `json:"verdict"`
	PInside         float64        `json:"p_inside"`
	PeakKPa         float64        `json:"peak_kpa"` // of the hold's mean map
	PeakAt          platform.Point `json:"peak_at_mm"`
	PeakFrameKPa    float64        `json:"peak_frame_kpa"` // largest in any single frame
	PTIKPaS         float64        `json:"pti_kpa_s"`      // largest pressure-time integral of a cell
	Thirds          Thirds         `json:"thirds"`
	OffOutlineShare float64        `json:"off_outline_share"` // share of load on cells beside the outline
	Sway            *sway.Sway     `json:"sway,omitempty"`
	LoadShare       *float64       `json:"load_share,omitempty"` // left ÷ both; absent on one foot

	// Standard uncertainties of the above, mounting included: the roots of their budgets.
	UOverMM       float64 `json:"u_over_mm"`
	UMedialMM     float64 `json:"u_medial_mm"`
	UContactShare float64 `json:"u_contact_share"`
	ULoadN        float64 `json:"u_load_n"`

	Map []float64 `json:"-"` // mean pressure of each cell over the hold, kPa, in scan order

	// What makes over, medial, contact share and load uncertain, by the measure's
	// name; nil unless Options.KeepBudget.
	Budget map[string]budget.Budget `json:"budget,omitempty"`

	// What sources do to each measure that relevés have in common, by the
	// measure's name.
	Seat map[string]float64 `json:"-"` // standard uncertainty that a new mounting gives it
	Gain map[string]Draws   `json:"-"` // changes under imagined gains of the cells
	Zero map[string]float64 `json:"-"` // change, with its sign, had the zero found after the hold been in force
	Fill map[string]float64 `json:"-"` // standard uncertainty for want of cells that do not measure
	Grid map[string]float64 `json:"-"` // standard uncertainty that the reconstruction leaves
	Blur map[string]float64 `json:"-"` // the most that sway adds by moving the edge of contact

	Hysteresis, Creep map[string]float64 `json:"-"` // the most that the strip's memory adds, as its calibration found
}

// Thirds is the share of load in each third of the platform's depth, 0..1.
type Thirds struct {
	Back   float64 `json:"back"`
	Middle float64 `json:"middle"`
	Front  float64 `json:"front"`
}

// Settings are the constants an analysis was made with, so that a result explains itself.
type Settings struct {
	Version          string  `json:"version"`
	LoadFloorN       float64 `json:"load_floor_n"`
	OnsetShare       float64 `json:"onset_share"`
	EndShare         float64 `json:"end_share"`
	HoldWithin       float64 `json:"hold_within"`
	HoldAtLeastS     float64 `json:"hold_at_least_s"`
	DipShorterThanS  float64 `json:"dip_shorter_than_s"`
	SwayLowPassHz    float64 `json:"sway_low_pass_hz"`
	SwayResampledHz  float64 `json:"sway_resampled_hz"`
	InsideFrom       float64 `json:"inside_from"`      // p_inside from here: over
	OutsideUpTo      float64 `json:"outside_up_to"`    // p_inside to here: not over
	OffOutlineWarn   float64 `json:"off_outline_warn"` // share of load off the outline that warns
	PlatformFlatWarn float64 `json:"platform_flat_warn"`
}
