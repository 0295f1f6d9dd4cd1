package words_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// sentence is a warning's values, with the foot and the relevé that it is about,
// and the sentence that is expected.
type sentence struct {
	foot   string
	releve int
	values measure.Values
	text   string
}

var (
	oneCell  = []measure.FaultyCell{{Row: 2, Column: 5, Fault: "dead"}}
	twoCells = []measure.FaultyCell{{Row: 2, Column: 5, Fault: "dead"}, {Row: 1, Column: 8, Fault: "stuck"}}
	slope    = measure.Values{
		Measure: measure.Over, PerReleve: -0.456, Interval: &[2]float64{-0.7, -0.001}, Shoe: "A", To: "B", Difference: -1.5,
	}
)

// sentences has every code. The texts are those of version 1 of the program,
// except that they are singular for one thing and that the code ghosts is called crosstalk.
var sentences = map[measure.Code][]sentence{
	measure.RecordingDamaged: {{"", 0, measure.Values{Detail: "damaged at byte 7"}, "the recording is damaged at byte 7"}},
	measure.RecordingCut:     {{"", 0, measure.Values{Detail: "it was never closed"}, "the recording is not whole: it was never closed"}},
	measure.Corrected:        {{"", 0, measure.Values{File: "a1.mcap", Detail: "2026-03-15: left shoe A → B"}, "a1.mcap: what it says was corrected on 2026-03-15: left shoe A → B"}},
	measure.NoFrames:         {{"right", 0, measure.Values{Strip: "R-01"}, "right: no frame arrived from strip R-01"}},
	measure.FramesMissing: {
		{"left", 0, measure.Values{N: 20, Of: 1600}, "left: 20 of 1600 frames are missing"},
		{"left", 0, measure.Values{N: 2, Of: 3}, "left: 2 of 3 frames are missing"},
		{"left", 0, measure.Values{N: 1, Of: 2}, "left: 1 of 2 frames is missing"},
	},
	measure.BeyondConverter: {{"left", 0, measure.Values{Strip: "L-01", N: 3, Of: 1600},
		"left: 3 of 1600 frames have counts above the range of the converter of strip L-01: is adc_bits right, and is it the profile of this strip?"}},
	measure.HostClock: {{"left", 0, measure.Values{}, "left: the strip sends no clock: times are those of arrival at the computer"}},
	measure.CellsLost: {
		{"left", 0, measure.Values{Strip: "L-01", Cells: twoCells},
			"left: cells that do not measure are left out: row 2, column 5 (dead); row 1, column 8 (stuck); repair or replace strip L-01"},
		{"left", 0, measure.Values{Strip: "L-01", Cells: oneCell},
			"left: a cell that does not measure is left out: row 2, column 5 (dead); repair or replace strip L-01"},
	},
	measure.ZeroCalibrated: {{"left", 0, measure.Values{}, "left: the strip was never unloaded: the zero of its calibration is used"}},
	measure.ZeroUnknown:    {{"left", 0, measure.Values{}, "left: the strip was never unloaded: its zero is unknown, and 0 counts is assumed"}},
	measure.ZeroFromLater:  {{"left", 0, measure.Values{}, "left: the recording begins under load: its zero is taken from a later time"}},
	measure.BeyondCalibration: {{"left", 0, measure.Values{Strip: "L-01", KPa: 2500, Percent: 3.14159},
		"left: pressure beyond the 2500 kPa up to which strip L-01 was calibrated, in 3.1 % of the frames held (to a tenth of a second)"},
		{"left", 0, measure.Values{Strip: "L-01", KPa: 2500, Percent: 100},
			"left: pressure beyond the 2500 kPa up to which strip L-01 was calibrated, in 100 % of the frames held (to a tenth of a second)"}},
	measure.Discarded: {
		{"", 0, measure.Values{Releves: []int{2}}, "discarded while recording, and not counted: relevé 2"},
		{"", 0, measure.Values{Releves: []int{2, 3}}, "discarded while recording, and not counted: relevés 2, 3"},
	},
	measure.StripSmall: {
		{"left", 0, measure.Values{Strip: "L-01", Percent: 81.6}, "left: strip L-01 covers 82 % of the platform: load beside it is not measured"},
		{"left", 3, measure.Values{Strip: "L-01", Percent: 81.6}, "strip L-01 covers 82 % of the platform: load beside it is not measured"},
	},
	measure.CalibrationOther: {
		{"", 0, measure.Values{Strip: "L-01", OtherStrip: "L-02"}, "strip L-01: its calibration was made for strip L-02: calibrate this one"},
		{"left", 0, measure.Values{Strip: "L-01", OtherStrip: "L-02"}, "left: strip L-01: its calibration was made for strip L-02: calibrate this one"},
	},
	measure.CalibrationNoHash: {{"", 0, measure.Values{Strip: "L-01"}, "strip L-01: its calibration has no hash, so it cannot be verified"}},
	measure.CalibrationEdited: {{"", 0, measure.Values{Strip: "L-01"},
		"strip L-01: its calibration was changed afterwards, or was made for another strip: calibrate it again"}},
	measure.CalibrationNoDate: {{"", 0, measure.Values{Strip: "L-01"}, "strip L-01: its calibration has no date, so its age is unknown"}},
	measure.CalibrationLater:  {{"", 0, measure.Values{Strip: "L-01", Date: "2026-03-14"}, "strip L-01: its calibration of 2026-03-14 is later than the recording"}},
	measure.CalibrationOld: {
		{"", 0, measure.Values{Strip: "L-01", Date: "2025-03-14", Days: 2}, "strip L-01: its calibration of 2025-03-14 was out of date (good for 2 days): calibrate it again"},
		{"", 0, measure.Values{Strip: "L-01", Date: "2025-03-14", Days: 1}, "strip L-01: its calibration of 2025-03-14 was out of date (good for 1 day): calibrate it again"},
	},
	measure.LoadOffOutline: {{"left", 1, measure.Values{Percent: 3}, "more than 3 % of the load is beside the outline: strip or outline is misplaced"}},
	measure.NotFlat:        {{"left", 1, measure.Values{}, "platform not flat, or strip does not cover it"}},
	measure.SaturatedCells: {{"left", 1, measure.Values{},
		"cells at the end of their range: load, peak pressure and pressure-time integral are lower bounds; over, medial, contact share and thirds are unreliable"}},
	measure.CrosstalkStays: {{"left", 1, measure.Values{},
		"crosstalk could not be corrected and affects all numbers: check tie_ohm and one_count_ohm in the strip profile"}},
	measure.BeyondInReleve: {{"left", 1, measure.Values{},
		"pressure beyond the calibrated range: load and peak pressure rely on extrapolating the curve"}},
	measure.GapInReleve: {{"left", 1, measure.Values{}, "frames are missing in it, or the recording begins or ends in it"}},
	measure.CellsNotFilled: {
		{"left", 1, measure.Values{Cells: twoCells}, "over, medial, contact share, load and the verdict cannot be trusted: " +
			"the load on cells without a reading is unknown: row 2, column 5 (dead); row 1, column 8 (stuck); repair the strip"},
		{"left", 1, measure.Values{Cells: oneCell}, "over, medial, contact share, load and the verdict cannot be trusted: " +
			"the load on a cell without a reading is unknown: row 2, column 5 (dead); repair the strip"},
	},
	measure.CellsFilled: {
		{"left", 1, measure.Values{Cells: twoCells},
			"cells without a reading, filled from the others, which adds to the uncertainties: row 2, column 5 (dead); row 1, column 8 (stuck)"},
		{"left", 1, measure.Values{Cells: oneCell},
			"a cell without a reading, filled from the others, which adds to the uncertainties: row 2, column 5 (dead)"},
	},
	measure.DancerAssumed:   {{"", 0, measure.Values{Dancer: "D7"}, "a recording names no dancer and is assumed to be of D7"}},
	measure.RecordingTwice:  {{"", 0, measure.Values{File: "1.mcap"}, "1.mcap is the same recording as another and counts once"}},
	measure.NothingMeasured: {{"left", 0, measure.Values{Shoe: "A"}, "A left: no relevé could be measured"}},
	measure.OneReleve: {{"left", 0, measure.Values{Shoe: "A"},
		"A left: one relevé only: its scatter is unknown, so there is no interval"}},
	measure.AbortedLeftOut: {
		{"left", 0, measure.Values{Shoe: "A", N: 1}, "A left: 1 aborted relevé left out"},
		{"left", 0, measure.Values{Shoe: "A", N: 2}, "A left: 2 aborted relevés left out"},
	},
	measure.OfReleves: {
		{"left", 0, measure.Values{Shoe: "A", N: 1, Of: 1, Because: &measure.Warning{Code: measure.NotFlat, Foot: "left", Releve: 1}},
			"A left: platform not flat, or strip does not cover it (1 of 1 relevé)"},
		{"left", 0, measure.Values{Shoe: "A", N: 1, Of: 2, Because: &measure.Warning{Code: measure.CellsFilled, Foot: "left", Releve: 2, Values: measure.Values{Cells: oneCell}}},
			"A left: a cell without a reading, filled from the others, which adds to the uncertainties: row 2, column 5 (dead) (1 of 2 relevés)"},
	},
	measure.PressUnused: {{"left", 0, measure.Values{Detail: "misfit"}, "left: the pad press does not show where the strip lies: aplomb check says why, and what to do"}},
	measure.PressFound: {{"left", 0, measure.Values{Span: &[2]float64{3.14, 12.4}},
		"left: a pad press was found from 3.1 to 12.4 s without a mark: it is used as a press and does not count as a relevé"}},
	measure.SeatFar: {{"left", 0, measure.Values{Strip: "L-01"},
		"left: strip L-01 would lie further from the place in its profile than is possible: check that strip, foot and shoe are the ones named, and mount it again"}},
	measure.SeatBeyond: {{"left", 0, measure.Values{Strip: "L-01", MM: 2.14},
		"left: strip L-01 lies 2.1 mm from the place in its profile, more than the profile expects: the place found is used"}},
	measure.SeatMoved: {{"left", 0, measure.Values{Strip: "L-01"},
		"left: strip L-01 lies in another place in the relevés than in the pad press: fix it so that it cannot move"}},
	measure.OutlineConflict: {{"left", 0, measure.Values{Shoe: "A"},
		"left: the pad press shows another outline than the other recordings of shoe A: check that it is that shoe"}},
	measure.SeatAssumed:   {{"", 0, measure.Values{Strip: "L-01", MM: 1}, "strip L-01: its mounting repeatability of 1.0 mm is our assumption, not measured"}},
	measure.SeatFromHolds: {{"", 0, measure.Values{Strip: "L-01"}, "strip L-01: its place was found from the relevés alone: a pad press would show it more accurately"}},
	measure.GainAssumed:   {{"", 0, measure.Values{Strip: "L-01", Percent: 3}, "strip L-01: that its cells differ by 3 % is our assumption, not measured"}},
	measure.CalibrationChanged: {{"", 0, measure.Values{Strip: "L-01"},
		"strip L-01: its calibration is not the same in all recordings: a difference in load or contact may be the strip's: compare recordings of one calibration"},
		{"", 0, measure.Values{Strip: "L-01", Percent: 3.14},
			"strip L-01: its calibration is not the same in all recordings (the same readings give a load that differs by +3.1 %): a difference in load or contact may be the strip's: compare recordings of one calibration"}},
	measure.CheckMoved: {{"", 0, measure.Values{Strip: "L-01", Since: "2026-01-10", Date: "2026-03-01", Percent: -4.2, Interval: &[2]float64{-5.5, -2.9}},
		"strip L-01: from its check on 2026-01-10 to that on 2026-03-01 its load changed by −4.2 % (95 % interval −5.5 to −2.9 %): a difference in load between recordings before and after may be the strip's: compare recordings on one side of the change, and calibrate it again if it does not pass"}},
	measure.CheckOld: {{"", 0, measure.Values{Strip: "L-01", Date: "2026-01-10", Days: 91},
		"strip L-01: its last check with known weights was on 2026-01-10, 91 days before the last visit, and its load is assumed to be still right: check it again (aplomb strip verify)"}},
	measure.CheckFailed: {{"", 0, measure.Values{Strip: "L-01", Date: "2026-01-10", Percent: 6.04},
		"strip L-01: it did not pass its last check on 2026-01-10, with a load off by +6.0 % on average: calibrate it again (aplomb strip calibrate)"}},
	measure.ShareShifted: {
		{"", 0, measure.Values{Strip: "L-01", OtherStrip: "R-01", N: 2, Measure: measure.LoadShare, Difference: -0.0105, Interval: &[2]float64{-0.014, -0.007}},
			"strips L-01 and R-01: by their checks they alone change the load share of the left foot by −1.1 percentage points (95 % interval −1.4 to −0.7) from the first visit to the last: a change no larger than that may come from the strips"},
		{"", 0, measure.Values{Strip: "L-01", OtherStrip: "R-01", N: 1, Measure: measure.LoadShare, Difference: 0.0105, Interval: &[2]float64{0.007, 0.014}},
			"strips L-01 and R-01: by their checks they alone change the load share of the left foot by +1.1 percentage points (95 % interval +0.7 to +1.4) from the first visit to the last, if the one without two checks has not changed: a change no larger than that may come from the strips"},
	},
	measure.SeveralStrips:   {{"left", 0, measure.Values{}, "left: several strips: contact share compares only on the same strip model, and load is not judged between strips, because they may read the same load differently"}},
	measure.FootNotMeasured: {{"right", 0, measure.Values{}, "no relevé of the right foot was measured: left and right cannot be compared"}},
	measure.Trend: {
		{"left", 0, slope, "left: over changes by −0.46 mm a relevé over the visit (95 % interval −0.70 to 0.00), whatever the shoe: warming up or tiring; " +
			"in this order it alone accounts for −1.50 mm of the difference from A to B"},
		{"left", 0, measure.Values{Measure: measure.Over, PerReleve: 0.5, Interval: &[2]float64{0.25, 0.75}, Difference: -0.004},
			"left: over changes by 0.50 mm a relevé over the visit (95 % interval 0.25 to 0.75), whatever the shoe: warming up or tiring; " +
				"in this order it cancels between shoes"},
	},
	measure.MountingsScatter: {{"", 0, measure.Values{MM: 2.14, ExpectedMM: 0.41},
		"the place of the load differs between mountings by 2.1 mm (standard deviation), more than relevés and the seats of the strips explain (0.4 mm): the larger value is used, and a trend is not interpreted as warming up or tiring"}},
	measure.SeveralVisits: {{"", 0, measure.Values{N: 5, Days: 42, MM: 0.31},
		"relevés of 5 visits over 42 days are taken together: days differ as well as mountings, over by 0.3 mm (standard deviation), which is part of every interval"}},
	measure.SeveralFloors: {{"", 0, measure.Values{}, "several floors: contact share compares only on the same floor"}},
	measure.SeveralConditions: {{"", 0, measure.Values{Properties: []string{"support", "floor"}},
		"recordings under different conditions (support, floor) are kept apart and not compared with each other"}},
	measure.NotCompared: {{"left", 0, measure.Values{Shoe: "A", To: "B", Properties: []string{"fixing"}},
		"left: A and B were worn under no common conditions (fixing) and are not compared"}},
	measure.PracticeLeftOut: {{"", 0, measure.Values{File: "a.mcap"}, "a.mcap is left out: with live feedback it is practice, which says nothing about a shoe"}},
	measure.SeveralMarks: {{"left", 0, measure.Values{Shoe: "A"},
		"A left: both shoes of the pair, or some without a mark, were worn on this foot and are pooled: the difference between them is not part of the uncertainty"}},
	measure.ShoeDescribedTwice: {
		{"", 0, measure.Values{Shoe: "A", N: 2, Properties: []string{"hours_worn"}}, "shoe A is described in 2 ways (hours_worn): kept apart as A#1 to A#2"},
		{"", 0, measure.Values{Shoe: "A", N: 3, Properties: []string{"hours_worn", "box"}}, "shoe A is described in 3 ways (hours_worn, box): kept apart as A#1 to A#3"},
	},
	measure.ShoeAged: {{"", 0, measure.Values{Shoe: "A", Hours: &[2]float64{0, 6.5}},
		"shoe A was worn for 0 to 6.5 h in these visits and counts as one shoe: part of a difference may be its age (aplomb track --by hours follows it)"}},
	measure.OneVisit: {
		{"", 0, measure.Values{Series: []measure.SeriesName{{Side: "left", Shoe: "A"}}}, "left, shoe A: one visit only, nothing to compare it with"},
		{"", 0, measure.Values{Series: []measure.SeriesName{{Side: "left", Shoe: "A", Support: "barre", Rise: "roll-up"}}},
			"left, shoe A (barre, roll-up): one visit only, nothing to compare it with"},
		{"", 0, measure.Values{Series: []measure.SeriesName{{Side: "left - right", Shoe: "A"}}}, "left − right, shoe A: one visit only, nothing to compare it with"},
	},
	measure.FollowedSeparate: {
		{"", 0, measure.Values{Series: []measure.SeriesName{{Side: "left", Shoe: "A"}, {Side: "left", Shoe: "B", Support: "barre"}}},
			"left: A and B (barre) are followed each on its own: different shoes"},
		{"", 0, measure.Values{Series: []measure.SeriesName{{Side: "left", Shoe: "A"}, {Side: "left", Shoe: "A", Rise: "spring"}}},
			"left: A and A (spring) are followed each on its own: different support or rise"},
	},
}

func TestEveryCodeHasASentence(t *testing.T) {
	codeOf := map[string]measure.Code{}
	for _, code := range measure.Codes() {
		cases := sentences[code]
		assert.NotEmpty(t, cases, "no sentence is tested for %s", code)
		for _, c := range cases {
			w := measure.Warn(code, c.values)
			w.Foot, w.Releve = c.foot, c.releve
			assert.Equal(t, c.text, words.Warning(w), code)
		}

		// Two codes must also differ where they have the same values.
		bare := words.Warning(measure.Warn(code, measure.Values{
			Because: &measure.Warning{}, Interval: &[2]float64{}, Span: &[2]float64{}, Hours: &[2]float64{}, Series: make([]measure.SeriesName, 2), Measure: measure.Over,
		}))
		assert.Empty(t, codeOf[bare], "%s and %s have one sentence", code, codeOf[bare])
		assert.NotEqual(t, string(code), bare, "the code stands for its sentence")
		codeOf[bare] = code
	}
	assert.Len(t, sentences, len(measure.Codes()), "a sentence is tested that no code has")
}

// A code of a later version of the program is shown unchanged.
func TestUnknownCode(t *testing.T) {
	assert.Equal(t, "of_a_later_version", words.Warning(measure.Warning{Code: "of_a_later_version"}))
}

func TestWarningsAreNeverNil(t *testing.T) {
	assert.Equal(t, []string{}, words.Warnings(nil))
}

func TestFill(t *testing.T) {
	r := measure.Result{
		Warnings: []measure.Warning{measure.Warn(measure.HostClock, measure.Values{})},
		Releves:  []measure.Releve{{Warnings: []measure.Warning{{Code: measure.NotFlat, Foot: "left", Releve: 1}}}, {}},
	}
	words.Fill(&r)
	assert.Equal(t, []string{"the strip sends no clock: times are those of arrival at the computer"}, r.Texts)
	assert.Equal(t, []string{"platform not flat, or strip does not cover it"}, r.Releves[0].Texts)
	assert.Equal(t, []string{}, r.Releves[1].Texts)
}

// Every class has a code, and every code's class is known.
func TestClasses(t *testing.T) {
	var found []measure.Class
	for _, code := range measure.Codes() {
		if class := measure.Warn(code, measure.Values{}).Class; !slices.Contains(found, class) {
			found = append(found, class)
		}
	}
	assert.ElementsMatch(t, []measure.Class{measure.ChangesAnswer, measure.Assumed, measure.ForRecord}, found)
}
