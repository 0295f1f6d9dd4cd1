// Package words puts results into words for people. Every warning gets its
// sentence here and nowhere else.
package words

import (
	"fmt"
	"math"
	"strings"

	"aplomb/analyze/measure"
)

// Fill sets the texts of a result's warnings and of those of its relevés.
func Fill(r *measure.Result) {
	r.Texts = Warnings(r.Warnings)
	for i := range r.Releves {
		r.Releves[i].Texts = Warnings(r.Releves[i].Warnings)
	}
}

// Warnings returns the sentence of each warning. It is never nil.
func Warnings(all []measure.Warning) []string {
	said := make([]string, len(all))
	for i, w := range all {
		said[i] = Warning(w)
	}
	return said
}

// Warning returns the sentence of a warning, without a full stop. It begins with
// the foot where the warning is of one foot of a recording.
func Warning(w measure.Warning) string {
	v := w.Values
	foot := ""
	if w.Foot != "" && w.Releve == 0 {
		foot = w.Foot + ": "
	}
	switch w.Code {
	case measure.RecordingCut:
		return "the recording is not whole: " + v.Detail
	case measure.NoFrames:
		return fmt.Sprintf("%sno frame arrived from strip %s", foot, v.Strip)
	case measure.FramesMissing:
		return fmt.Sprintf("%s%d of %d frames are missing", foot, v.N, v.Of)
	case measure.HostClock:
		return foot + "the strip sends no clock: times are those of arrival at the computer"
	case measure.CellsLost:
		return fmt.Sprintf("%scells that do not measure are done without: %s; mend or change strip %s", foot, cells(v.Cells), v.Strip)
	case measure.ZeroCalibrated:
		return foot + "the strip was never unloaded: its zero is taken to be what it was when calibrated"
	case measure.ZeroUnknown:
		return foot + "the strip was never unloaded: its zero is unknown and taken as 0 counts"
	case measure.ZeroFromLater:
		return foot + "the recording begins under load: the zero comes from later"
	case measure.BeyondCalibration:
		return fmt.Sprintf("%spressure beyond the %.0f kPa up to which strip %s was calibrated, in %.2g %% of the frames held (to a tenth of a second)",
			foot, v.KPa, v.Strip, v.Percent)
	case measure.Discarded:
		return "discarded while recording, and not counted: relevé " + numbers(v.Releves)
	case measure.StripSmall:
		return fmt.Sprintf("%sstrip %s covers %.0f %% of the platform: what stands beside it is not measured", foot, v.Strip, v.Percent)
	case measure.CalibrationOther:
		return fmt.Sprintf("%sstrip %s: its calibration was made for strip %s: calibrate this one", foot, v.Strip, v.OtherStrip)
	case measure.CalibrationNoHash:
		return fmt.Sprintf("%sstrip %s: its calibration has no hash: nothing says that it is as it was made", foot, v.Strip)
	case measure.CalibrationEdited:
		return fmt.Sprintf("%sstrip %s: its calibration is not as it was made, or was made for another strip: calibrate it again", foot, v.Strip)
	case measure.CalibrationNoDate:
		return fmt.Sprintf("%sstrip %s: its calibration has no date: nothing says how old it is", foot, v.Strip)
	case measure.CalibrationLater:
		return fmt.Sprintf("%sstrip %s: its calibration of %s is later than the recording", foot, v.Strip, v.Date)
	case measure.CalibrationOld:
		return fmt.Sprintf("%sstrip %s: its calibration of %s was out of date (good for %s): calibrate it again", foot, v.Strip, v.Date, count(v.Days, "day", "days"))

	case measure.LoadOffOutline:
		return fmt.Sprintf("more than %.0f %% of the load is beside the outline: strip or outline is misplaced", v.Percent)
	case measure.NotFlat:
		return "platform not flat, or strip does not cover it"
	case measure.SaturatedCells:
		return "cells at the end of their range: load, peak pressure and pressure-time integral are lower bounds; " +
			"over, medial, contact share and thirds are unreliable"
	case measure.CrosstalkStays:
		return "crosstalk could not be taken out, and is in all numbers: look at tie_ohm and one_count_ohm in the strip profile"
	case measure.BeyondInReleve:
		return "pressure beyond what the strip was calibrated at: load and peak pressure rest on the curve going on as it did"
	case measure.GapInReleve:
		return "frames are missing in it, or the recording begins or ends in it"
	case measure.CellsNotFilled:
		return "over, medial, contact share, load and the verdict are not to be trusted: " +
			"nothing says what cells without a reading bear: " + cells(v.Cells) + "; mend the strip"
	case measure.CellsFilled:
		return "cells without a reading, filled from the others, which adds to the uncertainties: " + cells(v.Cells)

	case measure.DancerAssumed:
		return fmt.Sprintf("a recording names no dancer and is taken for one of %s", v.Dancer)
	case measure.RecordingTwice:
		return fmt.Sprintf("%s is the same recording as another and counts once", v.File)
	case measure.NothingMeasured:
		return fmt.Sprintf("%s %s: no relevé could be measured", v.Shoe, w.Foot)
	case measure.OneReleve:
		return fmt.Sprintf("%s %s: one relevé only: nothing says how it scatters, so there is no interval", v.Shoe, w.Foot)
	case measure.AbortedLeftOut:
		return fmt.Sprintf("%s %s: %s left out", v.Shoe, w.Foot, count(v.N, "aborted relevé", "aborted relevés"))
	case measure.OfReleves:
		return fmt.Sprintf("%s %s: %s (%d of %s)", v.Shoe, w.Foot, Warning(*v.Because), v.N, count(v.Of, "relevé", "relevés"))
	case measure.SeatAssumed:
		return fmt.Sprintf("strip %s: its mounting repeatability of %.1f mm is our assumption, not measured", v.Strip, v.MM)
	case measure.GainAssumed:
		return fmt.Sprintf("strip %s: that its cells differ by %.2g %% is our assumption, not measured", v.Strip, v.Percent)
	case measure.CalibrationChanged:
		return fmt.Sprintf("strip %s: its calibration is not the same in all recordings: a difference in load or contact may be the strip's", v.Strip)
	case measure.SeveralStrips:
		return foot + "several strips: contact share compares only on the same strip model"
	case measure.FootNotMeasured:
		return fmt.Sprintf("no relevé of the %s foot was measured: left and right cannot be compared", w.Foot)
	case measure.Trend:
		return trend(w)
	case measure.SeveralFloors:
		return "several floors: contact share compares only on the same floor"
	case measure.SeveralConditions:
		return "recordings under different support or rise are kept apart and not compared with each other"
	case measure.ShoeDescribedTwice:
		return fmt.Sprintf("shoe %s is described in %d ways (%s): kept apart as %s#1 to %s#%d",
			v.Shoe, v.N, strings.Join(v.Properties, ", "), v.Shoe, v.Shoe, v.N)

	case measure.OneVisit:
		return fmt.Sprintf("%s, shoe %s: one visit only, nothing to set it against", v.Series[0].Side, worn(v.Series[0]))
	case measure.FollowedSeparate:
		why := "different shoes"
		if v.Series[0].Shoe == v.Series[1].Shoe {
			why = "different support or rise"
		}
		return fmt.Sprintf("%s: %s and %s are followed each on its own: %s", v.Series[1].Side, worn(v.Series[0]), worn(v.Series[1]), why)
	}
	return string(w.Code)
}

// trend says that a measure changes over the relevés of a visit.
func trend(w measure.Warning) string {
	v := w.Values
	m := v.Measure.Describe()
	said := fmt.Sprintf("%s: %s runs off by %s %s a relevé over the visit (95 %% interval %s to %s), whatever the shoe: warming up or tiring",
		w.Foot, m.Label, hundredths(v.PerReleve), m.Unit, hundredths(v.Interval[0]), hundredths(v.Interval[1]))
	if hundredths(v.Difference) == "0.00" {
		return said + "; in this order it cancels between shoes"
	}
	return fmt.Sprintf("%s; in this order it alone makes %s %s of the difference from %s to %s", said, hundredths(v.Difference), m.Unit, v.Shoe, v.To)
}

// worn writes a shoe with the conditions of its series in brackets.
func worn(s measure.SeriesName) string {
	var conditions []string
	for _, c := range []string{s.Support, s.Rise} {
		if c != "" {
			conditions = append(conditions, c)
		}
	}
	if conditions == nil {
		return s.Shoe
	}
	return s.Shoe + " (" + strings.Join(conditions, ", ") + ")"
}

func cells(all []measure.FaultyCell) string {
	said := make([]string, len(all))
	for i, c := range all {
		said[i] = fmt.Sprintf("row %d, column %d (%s)", c.Row, c.Column, c.Fault)
	}
	return strings.Join(said, "; ")
}

func numbers(all []int) string {
	said := make([]string, len(all))
	for i, n := range all {
		said[i] = fmt.Sprint(n)
	}
	return strings.Join(said, ", ")
}

// count writes a number of things.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// hundredths writes x with two decimals and a true minus sign, and never −0.00.
func hundredths(x float64) string {
	s := fmt.Sprintf("%.2f", math.Abs(x))
	if x < 0 && s != "0.00" {
		return "−" + s
	}
	return s
}
