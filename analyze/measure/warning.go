package measure

import "aplomb/device"

// Warning is information that a reader of a result needs. It is a code with values;
// package plots/words makes a sentence of it.
type Warning struct {
	Code   Code   `json:"code"`
	Class  Class  `json:"class"`
	Foot   string `json:"foot,omitempty"`   // left or right; absent where the warning is of no single foot
	Releve int    `json:"releve,omitempty"` // n of the relevé; absent where the warning is of no single one
	Values Values `json:"values,omitzero"`
}

// Class is the meaning of a warning for the reader.
type Class string

const (
	// ChangesAnswer warnings are about something that may have changed the numbers or the
	// answer.
	ChangesAnswer Class = "changes_answer"
	// Assumed warnings are about a value that was assumed and not measured.
	Assumed Class = "assumed"
	// ForRecord warnings document the analysis, for a later check of the result.
	ForRecord Class = "for_record"
)

// Values are the details of a warning. The comment of each code names the fields that it
// sets.
type Values struct {
	Strip      string       `json:"strip,omitempty"`
	OtherStrip string       `json:"other_strip,omitempty"`
	Dancer     string       `json:"dancer,omitempty"`
	File       string       `json:"file,omitempty"`
	Shoe       string       `json:"shoe,omitempty"` // a code, or the label of a shoe in a comparison
	To         string       `json:"to,omitempty"`   // the label of another shoe
	Measure    Measure      `json:"measure,omitzero"`
	Cells      []FaultyCell `json:"cells,omitempty"`
	Releves    []int        `json:"releves,omitempty"` // n of each
	Properties []string     `json:"properties,omitempty"`
	Series     []SeriesName `json:"series,omitempty"`
	N          int          `json:"count,omitempty"`
	Of         int          `json:"of,omitempty"`      // what N is part of
	Percent    float64      `json:"percent,omitempty"` // see the code's comment
	KPa        float64      `json:"kpa,omitempty"`
	MM         float64      `json:"mm,omitempty"`
	ExpectedMM float64      `json:"expected_mm,omitempty"` // what MM was expected to be
	PerReleve  float64      `json:"per_releve,omitempty"`  // in the unit of Measure
	Interval   *[2]float64  `json:"ci95,omitempty"`        // of PerReleve, or see the code's comment
	Difference float64      `json:"difference,omitempty"`  // in the unit of Measure
	Span       *[2]float64  `json:"span_s,omitempty"`      // begin and end, s since the first frame
	Date       string       `json:"date,omitempty"`
	Since      string       `json:"since,omitempty"` // the earlier of two dates, Date being the later
	Days       int          `json:"days,omitempty"`
	Hours      *[2]float64  `json:"hours,omitempty"`  // from the least to the most
	Detail     string       `json:"detail,omitempty"` // a message from the file format or the operating system
	Because    *Warning     `json:"because,omitempty"`
}

// FaultyCell is a cell that does not measure.
type FaultyCell struct {
	Row    int    `json:"row"`    // from the back, from 1
	Column int    `json:"column"` // from the little-toe side, from 1
	Fault  string `json:"fault"`
}

// SeriesName identifies a series of a follow-up.
type SeriesName struct {
	Side    string `json:"side"`
	Shoe    string `json:"shoe"`
	Support string `json:"support,omitempty"`
	Rise    string `json:"rise,omitempty"`
}

// Code identifies the subject of a warning.
type Code string

// Warnings of a recording.
const (
	RecordingCut      Code = "recording_cut"       // Detail
	RecordingDamaged  Code = "recording_damaged"   // Detail
	Corrected         Code = "corrected"           // Detail: when, and what was changed; in a comparison File
	NoFrames          Code = "no_frames"           // Strip
	FramesMissing     Code = "frames_missing"      // N of Of frames
	BeyondConverter   Code = "beyond_converter"    // Strip; N of Of frames have counts above the range of its converter
	HostClock         Code = "host_clock"          // the strip sends no clock
	CellsLost         Code = "cells_lost"          // Strip, Cells
	ZeroCalibrated    Code = "zero_calibrated"     // never unloaded: the zero is that of the calibration
	ZeroUnknown       Code = "zero_unknown"        // never unloaded: the zero is assumed to be 0 counts
	ZeroFromLater     Code = "zero_from_later"     // the recording begins under load
	BeyondCalibration Code = "beyond_calibration"  // Strip, KPa, Percent of the frames held
	Discarded         Code = "discarded"           // Releves
	StripSmall        Code = "strip_small"         // Strip, Percent of the platform that it covers; also of a relevé
	CalibrationOther  Code = "calibration_other"   // Strip, OtherStrip
	CalibrationNoHash Code = "calibration_no_hash" // Strip
	CalibrationEdited Code = "calibration_edited"  // Strip
	CalibrationNoDate Code = "calibration_no_date" // Strip
	CalibrationLater  Code = "calibration_later"   // Strip, Date
	CalibrationOld    Code = "calibration_old"     // Strip, Date, Days that it is valid
	PressUnused       Code = "press_unused"        // Detail: the reason, see SeatRefusal
	PressFound        Code = "press_found"         // Span of the pad press, which was not marked
	SeatFar           Code = "seat_far"            // Strip; the seat is assumed, since the maps give one too far off
	SeatBeyond        Code = "seat_beyond_profile" // Strip, MM that it lies off; the seat was found
	SeatMoved         Code = "seat_moved"          // Strip
	OutlineConflict   Code = "outline_conflict"    // Shoe
)

// Warnings of a relevé.
const (
	LoadOffOutline Code = "load_off_outline" // Percent of the load, the limit that was exceeded
	NotFlat        Code = "not_flat"         // platform not flat, or not covered by the strip
	SaturatedCells Code = "saturated_cells"
	CrosstalkStays Code = "crosstalk_stays"  // crosstalk could not be removed
	BeyondInReleve Code = "beyond_in_releve" // pressures beyond the calibrated ones
	GapInReleve    Code = "gap_in_releve"
	CellsNotFilled Code = "cells_not_filled" // Cells
	CellsFilled    Code = "cells_filled"     // Cells
)

// Warnings of a comparison.
const (
	DancerAssumed      Code = "dancer_assumed"       // Dancer
	RecordingTwice     Code = "recording_twice"      // File
	NothingMeasured    Code = "nothing_measured"     // Shoe
	OneReleve          Code = "one_releve"           // Shoe
	AbortedLeftOut     Code = "aborted_left_out"     // Shoe, N
	OfReleves          Code = "of_releves"           // Shoe, N of Of relevés, Because
	SeatAssumed        Code = "seat_assumed"         // Strip, MM
	SeatFromHolds      Code = "seat_from_holds"      // Strip
	GainAssumed        Code = "gain_assumed"         // Strip, Percent
	CalibrationChanged Code = "calibration_changed"  // Strip; Percent by which the load differs for the same readings, where it is known; also of a follow-up
	CheckMoved         Code = "check_moved"          // Strip, Since, Date; Percent by which its load changed, Interval of it; also of a follow-up
	SeveralStrips      Code = "several_strips"       //
	FootNotMeasured    Code = "foot_not_measured"    //
	Trend              Code = "trend"                // Shoe, Measure, PerReleve, Interval; To and Difference where it does not cancel
	MountingsScatter   Code = "mountings_scatter"    // MM, ExpectedMM: standard deviations of place between mountings
	SeveralVisits      Code = "several_visits"       // N visits, Days from the first to the last, MM: standard deviation of over between days
	SeveralFloors      Code = "several_floors"       //
	SeveralConditions  Code = "several_conditions"   // Properties that differ
	NotCompared        Code = "not_compared"         // Shoe, To, Properties that differ
	PracticeLeftOut    Code = "practice_left_out"    // File
	SeveralMarks       Code = "several_marks"        // Shoe
	ShoeDescribedTwice Code = "shoe_described_twice" // Shoe, N, Properties
	ShoeAged           Code = "shoe_aged"            // Shoe, Hours that it was worn
)

// Warnings of a follow-up.
const (
	OneVisit         Code = "one_visit"         // Series[0]
	FollowedSeparate Code = "followed_separate" // Series[0], Series[1]
	CheckOld         Code = "check_old"         // Strip, Date of its last check, Days from it to the last recording
	CheckFailed      Code = "check_failed"      // Strip, Date of its last check, Percent by which the load was off on average
	ShareShifted     Code = "share_shifted"     // Strip, OtherStrip, Measure, Difference, Interval of it; N of both have two checks
)

// classes maps every code to its class.
var classes = map[Code]Class{
	RecordingCut: ChangesAnswer, RecordingDamaged: ChangesAnswer, Corrected: ForRecord, NoFrames: ChangesAnswer, FramesMissing: ForRecord, BeyondConverter: ChangesAnswer, HostClock: ForRecord,
	CellsLost: ChangesAnswer, ZeroCalibrated: Assumed, ZeroUnknown: Assumed, ZeroFromLater: ForRecord,
	BeyondCalibration: ChangesAnswer, Discarded: ForRecord, StripSmall: ChangesAnswer,
	CalibrationOther: ChangesAnswer, CalibrationNoHash: Assumed, CalibrationEdited: ChangesAnswer,
	CalibrationNoDate: Assumed, CalibrationLater: Assumed, CalibrationOld: Assumed,
	PressUnused: ChangesAnswer, PressFound: ForRecord, SeatFar: ChangesAnswer, SeatBeyond: ForRecord, SeatMoved: ChangesAnswer, OutlineConflict: ChangesAnswer,
	LoadOffOutline: ChangesAnswer, NotFlat: ChangesAnswer, SaturatedCells: ChangesAnswer, CrosstalkStays: ChangesAnswer,
	BeyondInReleve: ChangesAnswer, GapInReleve: ChangesAnswer, CellsNotFilled: ChangesAnswer, CellsFilled: ForRecord,
	DancerAssumed: Assumed, RecordingTwice: ForRecord, NothingMeasured: ChangesAnswer, OneReleve: ChangesAnswer,
	AbortedLeftOut: ForRecord, OfReleves: ChangesAnswer, SeatAssumed: Assumed, SeatFromHolds: Assumed, GainAssumed: Assumed,
	CalibrationChanged: ChangesAnswer, SeveralStrips: ChangesAnswer, FootNotMeasured: ChangesAnswer, Trend: ChangesAnswer,
	MountingsScatter: ChangesAnswer, SeveralVisits: ChangesAnswer, SeveralFloors: ChangesAnswer, SeveralConditions: ForRecord, NotCompared: ChangesAnswer, PracticeLeftOut: ForRecord, SeveralMarks: ChangesAnswer, ShoeDescribedTwice: ForRecord, ShoeAged: ChangesAnswer,
	OneVisit: ForRecord, FollowedSeparate: ForRecord,
	CheckMoved: ChangesAnswer, CheckOld: Assumed, CheckFailed: ChangesAnswer, ShareShifted: ChangesAnswer,
}

// Warn returns a warning with the class of its code.
func Warn(code Code, v Values) Warning { return Warning{Code: code, Class: classes[code], Values: v} }

// OfClass returns the warnings of one class, in order.
func OfClass(all []Warning, class Class) (out []Warning) {
	for _, w := range all {
		if w.Class == class {
			out = append(out, w)
		}
	}
	return out
}

// On returns the warning with foot f.
func (w Warning) On(f device.Foot) Warning {
	w.Foot = f.String()
	return w
}

// Codes returns every code, in random order.
func Codes() []Code {
	all := make([]Code, 0, len(classes))
	for code := range classes {
		all = append(all, code)
	}
	return all
}

// calibrationCodes maps every fault of a calibration to its code.
var calibrationCodes = map[device.CalibrationFault]Code{
	device.MadeForOther: CalibrationOther, device.NoHash: CalibrationNoHash, device.NotAsMade: CalibrationEdited,
	device.NoDate: CalibrationNoDate, device.LaterThanUsed: CalibrationLater, device.OutOfDate: CalibrationOld,
}

// CalibrationWarnings returns the warnings that follow from doubts about the
// calibration of a strip.
func CalibrationWarnings(doubts []device.CalibrationDoubt) []Warning {
	var all []Warning
	for _, d := range doubts {
		v := Values{Strip: d.Strip, OtherStrip: d.MadeFor, Days: d.ValidDays}
		if d.Date != (device.Date{}) {
			v.Date = d.Date.String()
		}
		all = append(all, Warn(calibrationCodes[d.Fault], v))
	}
	return all
}
