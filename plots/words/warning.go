// Package words puts results into words for people: the sentence of every
// warning, verdicts, and numbers with their units.
package words

import (
	"fmt"
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

// Warnings returns the sentence of each warning, in order. It is never nil.
func Warnings(all []measure.Warning) []string {
	texts := make([]string, len(all))
	for i, w := range all {
		texts[i] = Warning(w)
	}
	return texts
}

// Warning returns the sentence of a warning, without a full stop. It begins with
// the foot where the warning is about one foot of a recording.
func Warning(w measure.Warning) string {
	v := w.Values
	foot := ""
	if w.Foot != "" && w.Releve == 0 {
		foot = w.Foot + ": "
	}
	switch w.Code {
	case measure.RecordingCut:
		return "the recording is not whole: " + v.Detail
	case measure.RecordingDamaged:
		return "the recording is " + v.Detail
	case measure.Corrected:
		file := ""
		if v.File != "" {
			file = v.File + ": "
		}
		return file + "what it says was corrected on " + v.Detail
	case measure.NoFrames:
		return fmt.Sprintf("%sno frame arrived from strip %s", foot, v.Strip)
	case measure.FramesMissing:
		return fmt.Sprintf("%s%d of %s %s missing", foot, v.N, Count(v.Of, "frame", "frames"), plural(v.N, "is", "are"))
	case measure.BeyondConverter:
		return fmt.Sprintf("%s%d of %s %s counts above the range of the converter of strip %s: is adc_bits right, and is it the profile of this strip?",
			foot, v.N, Count(v.Of, "frame", "frames"), plural(v.N, "has", "have"), v.Strip)
	case measure.HostClock:
		return foot + "the strip sends no clock: times are those of arrival at the computer"
	case measure.CellsLost:
		return fmt.Sprintf("%s%s left out: %s; repair or replace strip %s", foot,
			plural(len(v.Cells), "a cell that does not measure is", "cells that do not measure are"), faultyCells(v.Cells), v.Strip)
	case measure.ZeroCalibrated:
		return foot + "the strip was never unloaded: the zero of its calibration is used"
	case measure.ZeroUnknown:
		return foot + "the strip was never unloaded: its zero is unknown, and 0 counts is assumed"
	case measure.ZeroFromLater:
		return foot + "the recording begins under load: its zero is taken from a later time"
	case measure.BeyondCalibration:
		return fmt.Sprintf("%spressure beyond the %.0f kPa up to which strip %s was calibrated, in %s %% of the frames held (to a tenth of a second)",
			foot, v.KPa, v.Strip, Digits(v.Percent, 2))
	case measure.Discarded:
		return "discarded while recording, and not counted: " + plural(len(v.Releves), "relevé ", "relevés ") + numbers(v.Releves)
	case measure.StripSmall:
		return fmt.Sprintf("%sstrip %s covers %.0f %% of the platform: load beside it is not measured", foot, v.Strip, v.Percent)
	case measure.CalibrationOther:
		return fmt.Sprintf("%sstrip %s: its calibration was made for strip %s: calibrate this one", foot, v.Strip, v.OtherStrip)
	case measure.CalibrationNoHash:
		return fmt.Sprintf("%sstrip %s: its calibration has no hash, so it cannot be verified", foot, v.Strip)
	case measure.CalibrationEdited:
		return fmt.Sprintf("%sstrip %s: its calibration was changed afterwards, or was made for another strip: calibrate it again", foot, v.Strip)
	case measure.CalibrationNoDate:
		return fmt.Sprintf("%sstrip %s: its calibration has no date, so its age is unknown", foot, v.Strip)
	case measure.CalibrationLater:
		return fmt.Sprintf("%sstrip %s: its calibration of %s is later than the recording", foot, v.Strip, v.Date)
	case measure.CalibrationOld:
		return fmt.Sprintf("%sstrip %s: its calibration of %s was out of date (good for %s): calibrate it again", foot, v.Strip, v.Date, Count(v.Days, "day", "days"))

	case measure.PressUnused:
		return foot + "the pad press does not show where the strip lies: aplomb check says why, and what to do"
	case measure.PressFound:
		return fmt.Sprintf("%sa pad press was found from %.1f to %.1f s without a mark: it is used as a press and does not count as a relevé", foot, v.Span[0], v.Span[1])
	case measure.SeatFar:
		return fmt.Sprintf("%sstrip %s would lie further from the place in its profile than is possible: check that strip, foot and shoe are the ones named, and mount it again", foot, v.Strip)
	case measure.SeatBeyond:
		return fmt.Sprintf("%sstrip %s lies %s mm from the place in its profile, more than the profile expects: the place found is used", foot, v.Strip, Number(v.MM, 1))
	case measure.SeatMoved:
		return fmt.Sprintf("%sstrip %s lies in another place in the relevés than in the pad press: fix it so that it cannot move", foot, v.Strip)
	case measure.OutlineConflict:
		return fmt.Sprintf("%sthe pad press shows another outline than the other recordings of shoe %s: check that it is that shoe", foot, v.Shoe)

	case measure.LoadOffOutline:
		return fmt.Sprintf("more than %.0f %% of the load is beside the outline: strip or outline is misplaced", v.Percent)
	case measure.NotFlat:
		return "platform not flat, or strip does not cover it"
	case measure.SaturatedCells:
		return "cells at the end of their range: load, peak pressure and pressure-time integral are lower bounds; " +
			"over, medial, contact share and thirds are unreliable"
	case measure.CrosstalkStays:
		return "crosstalk could not be corrected and affects all numbers: check tie_ohm and one_count_ohm in the strip profile"
	case measure.BeyondInReleve:
		return "pressure beyond the calibrated range: load and peak pressure rely on extrapolating the curve"
	case measure.GapInReleve:
		return "frames are missing in it, or the recording begins or ends in it"
	case measure.CellsNotFilled:
		return "over, medial, contact share, load and the verdict cannot be trusted: " +
			plural(len(v.Cells), "the load on a cell without a reading is unknown: ", "the load on cells without a reading is unknown: ") +
			faultyCells(v.Cells) + "; repair the strip"
	case measure.CellsFilled:
		return plural(len(v.Cells), "a cell", "cells") +
			" without a reading, filled from the others, which adds to the uncertainties: " + faultyCells(v.Cells)

	case measure.DancerAssumed:
		return fmt.Sprintf("a recording names no dancer and is assumed to be of %s", v.Dancer)
	case measure.RecordingTwice:
		return fmt.Sprintf("%s is the same recording as another and counts once", v.File)
	case measure.NothingMeasured:
		return fmt.Sprintf("%s %s: no relevé could be measured", v.Shoe, w.Foot)
	case measure.OneReleve:
		return fmt.Sprintf("%s %s: one relevé only: its scatter is unknown, so there is no interval", v.Shoe, w.Foot)
	case measure.AbortedLeftOut:
		return fmt.Sprintf("%s %s: %s left out", v.Shoe, w.Foot, Count(v.N, "aborted relevé", "aborted relevés"))
	case measure.OfReleves:
		return fmt.Sprintf("%s %s: %s (%d of %s)", v.Shoe, w.Foot, Warning(*v.Because), v.N, Count(v.Of, "relevé", "relevés"))
	case measure.SeatAssumed:
		return fmt.Sprintf("strip %s: its mounting repeatability of %.1f mm is our assumption, not measured", v.Strip, v.MM)
	case measure.SeatFromHolds:
		return fmt.Sprintf("strip %s: its place was found from the relevés alone: a pad press would show it more accurately", v.Strip)
	case measure.GainAssumed:
		return fmt.Sprintf("strip %s: that its cells differ by %s %% is our assumption, not measured", v.Strip, Digits(v.Percent, 2))
	case measure.CalibrationChanged:
		by := ""
		if v.Percent != 0 {
			by = fmt.Sprintf(" (the same readings give a load that differs by %s %%)", Signed(v.Percent, 1))
		}
		return fmt.Sprintf("strip %s: its calibration is not the same in all recordings%s: a difference in load or contact may be the strip's: compare recordings of one calibration", v.Strip, by)
	case measure.CheckMoved:
		return fmt.Sprintf("strip %s: from its check on %s to that on %s its load changed by %s %% (95 %% interval %s to %s %%): a difference in load between recordings before and after may be the strip's: compare recordings on one side of the change, and calibrate it again if it does not pass",
			v.Strip, v.Since, v.Date, Signed(v.Percent, 1), Signed(v.Interval[0], 1), Signed(v.Interval[1], 1))
	case measure.SeveralStrips:
		return foot + "several strips: contact share compares only on the same strip model, and load is not judged between strips, because they may read the same load differently"
	case measure.FootNotMeasured:
		return fmt.Sprintf("no relevé of the %s foot was measured: left and right cannot be compared", w.Foot)
	case measure.Trend:
		return trendSentence(w)
	case measure.MountingsScatter:
		return fmt.Sprintf("the place of the load differs between mountings by %.1f mm (standard deviation), more than relevés and the seats of the strips explain (%.1f mm): the larger value is used, and a trend is not interpreted as warming up or tiring", v.MM, v.ExpectedMM)
	case measure.SeveralVisits:
		return fmt.Sprintf("relevés of %d visits over %s are taken together: days differ as well as mountings, over by %s mm (standard deviation), which is part of every interval", v.N, Count(v.Days, "day", "days"), Number(v.MM, 1))
	case measure.SeveralFloors:
		return "several floors: contact share compares only on the same floor"
	case measure.SeveralConditions:
		return fmt.Sprintf("recordings under different conditions (%s) are kept apart and not compared with each other", strings.Join(v.Properties, ", "))
	case measure.NotCompared:
		return fmt.Sprintf("%s%s and %s were worn under no common conditions (%s) and are not compared", foot, v.Shoe, v.To, strings.Join(v.Properties, ", "))
	case measure.PracticeLeftOut:
		return fmt.Sprintf("%s is left out: with live feedback it is practice, which says nothing about a shoe", v.File)
	case measure.SeveralMarks:
		return fmt.Sprintf("%s %s: both shoes of the pair, or some without a mark, were worn on this foot and are pooled: the difference between them is not part of the uncertainty", v.Shoe, w.Foot)
	case measure.ShoeDescribedTwice:
		return fmt.Sprintf("shoe %s is described in %s (%s): kept apart as %s#1 to %s#%d",
			v.Shoe, Count(v.N, "way", "ways"), strings.Join(v.Properties, ", "), v.Shoe, v.Shoe, v.N)
	case measure.ShoeAged:
		return fmt.Sprintf("shoe %s was worn for %s to %s h in these visits and counts as one shoe: part of a difference may be its age (aplomb track --by hours follows it)", v.Shoe, Digits(v.Hours[0], 4), Digits(v.Hours[1], 4))

	case measure.OneVisit:
		return fmt.Sprintf("%s, shoe %s: one visit only, nothing to compare it with", sideOf(v.Series[0]), shoeAndConditions(v.Series[0]))
	case measure.CheckOld:
		return fmt.Sprintf("strip %s: its last check with known weights was on %s, %s before the last visit, and its load is assumed to be still right: check it again (aplomb strip verify)",
			v.Strip, v.Date, Count(v.Days, "day", "days"))
	case measure.CheckFailed:
		return fmt.Sprintf("strip %s: it did not pass its last check on %s, with a load off by %s %% on average: calibrate it again (aplomb strip calibrate)", v.Strip, v.Date, Signed(v.Percent, 1))
	case measure.ShareShifted:
		text := fmt.Sprintf("strips %s and %s: by their checks they alone change the load share of the left foot by %s percentage points (95 %% interval %s to %s) from the first visit to the last",
			v.Strip, v.OtherStrip, Signed(100*v.Difference, 1), Signed(100*v.Interval[0], 1), Signed(100*v.Interval[1], 1))
		if v.N < 2 {
			text += ", if the one without two checks has not changed"
		}
		return text + ": a change no larger than that may come from the strips"
	case measure.FollowedSeparate:
		why := "different shoes"
		if v.Series[0].Shoe == v.Series[1].Shoe {
			why = "different support or rise"
		}
		return fmt.Sprintf("%s: %s and %s are followed each on its own: %s", sideOf(v.Series[1]), shoeAndConditions(v.Series[0]), shoeAndConditions(v.Series[1]), why)
	}
	return string(w.Code)
}

// trendSentence returns the sentence of a measure that changes over the relevés of a visit.
func trendSentence(w measure.Warning) string {
	v := w.Values
	m := v.Measure.Describe()
	text := fmt.Sprintf("%s: %s changes by %s %s a relevé over the visit (95 %% interval %s to %s), whatever the shoe: warming up or tiring",
		w.Foot, m.Label, Number(v.PerReleve, 2), m.Unit, Number(v.Interval[0], 2), Number(v.Interval[1], 2))
	if Number(v.Difference, 2) == "0.00" {
		return text + "; in this order it cancels between shoes"
	}
	return fmt.Sprintf("%s; in this order it alone accounts for %s %s of the difference from %s to %s", text, Number(v.Difference, 2), m.Unit, v.Shoe, v.To)
}

// sideOf writes the side of a series, with a true minus sign in left − right.
func sideOf(s measure.SeriesName) string { return strings.Replace(s.Side, " - ", " − ", 1) }

// shoeAndConditions writes the shoe of a series, with its conditions in brackets.
func shoeAndConditions(s measure.SeriesName) string {
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

// faultyCells lists cells, each with its fault.
func faultyCells(all []measure.FaultyCell) string {
	texts := make([]string, len(all))
	for i, c := range all {
		texts[i] = fmt.Sprintf("row %d, column %d (%s)", c.Row, c.Column, c.Fault)
	}
	return strings.Join(texts, "; ")
}

func numbers(all []int) string {
	texts := make([]string, len(all))
	for i, n := range all {
		texts[i] = fmt.Sprint(n)
	}
	return strings.Join(texts, ", ")
}

// plural chooses between the words for one thing and those for any other number.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
