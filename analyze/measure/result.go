package measure

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// Result contains all measurements of one recording. Its JSON is one line of analyze
// --json.
type Result struct {
	Recording Recording         `json:"recording"`
	Platforms PerFoot[Platform] `json:"platforms"`
	Seats     PerFoot[Seat]     `json:"seats"`
	Settings  Settings          `json:"settings"`
	Releves   []Releve          `json:"releves"` // by n, then left before right
	Warnings  []Warning         `json:"warning_codes"`
	Texts     []string          `json:"warnings"` // Warnings in words, see package plots/words

	Notes  []Note  `json:"notes,omitempty"`        // by time
	Remark *Remark `json:"remark,omitempty"`       // absent where there is none
	Visit  *Visit  `json:"visit_record,omitempty"` // that it was made in; absent where a file was named

	Provenance *Provenance `json:"provenance,omitempty"`

	Meta   device.Metadata `json:"-"`
	Events []device.Event  `json:"-"`
	Traces [2][]Sample     `json:"-"` // by foot; nil unless they were asked for

	Presses [2][]Press `json:"-"` // by foot: the pad presses

	Unloaded [2]bool `json:"-"` // by foot: the strip was unloaded at some time, so its zero is known
}

// Press is one pad press: the platform pressed on a soft pad with the shoe off the
// foot, and rocked so that its whole outline bears load. It is no relevé.
type Press struct {
	StartS, EndS float64     // s since the first frame
	Maps         [][]float64 // mean pressure on each cell over every tenth of a second under load, kPa, in scan order
	MapNoiseKPa  float64     // standard deviation of a map from the noise of the cells
	Found        bool        // found from the load, without a mark
	Refused      SeatRefusal // why it was not used for the seat; "" where it was not refused
}

// Recording identifies the recording of a Result.
type Recording struct {
	File      string           `json:"file"`
	Dancer    string           `json:"dancer,omitempty"`
	Shoes     PerFoot[string]  `json:"shoes"`
	Mountings PerFoot[string]  `json:"mountings"`
	Feedback  string           `json:"feedback,omitempty"` // what the dancer sees of the numbers: none, after, live
	Marks     PerFoot[int]     `json:"marks,omitzero"`     // of the physical shoe in its pair, 1 or 2
	Paddings  PerFoot[string]  `json:"paddings,omitzero"`  // what is between foot and shoe, in words
	Fixings   PerFoot[string]  `json:"fixings,omitzero"`   // how the strip is fixed to the shoe, in words
	Feet      PerFoot[FootLog] `json:"feet"`
}

// FootLog counts what arrived from one strip.
type FootLog struct {
	Frames int     `json:"frames"`
	Lost   *int64  `json:"lost,omitempty"` // absent where the format does not number its frames
	RateHz float64 `json:"rate_hz"`        // frames sent a second, lost ones included
	SpanS  float64 `json:"span_s"`
}

// Platform is the platform under one foot.
type Platform struct {
	AreaMM2 float64          `json:"area_mm2"`
	Kern    platform.Polygon `json:"kern_mm"`
	Covered float64          `json:"covered"` // share of the outline under the strip, 0..1

	Outline platform.Polygon `json:"-"`
}

// Settings are the constants of an analysis, for readers of the result.
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
	SwayWindowS      float64 `json:"sway_window_s"`    // length of the window of sway; shorter holds have neither sway nor settling
	InsideFrom       float64 `json:"inside_from"`      // p_inside from here: over
	OutsideUpTo      float64 `json:"outside_up_to"`    // p_inside to here: not over
	OffOutlineWarn   float64 `json:"off_outline_warn"` // share of load off the outline that warns
	PlatformFlatWarn float64 `json:"platform_flat_warn"`
	ContactKPa       float64 `json:"contact_kpa"` // contact begins above this pressure, where the seat was found
}
