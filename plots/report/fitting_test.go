package report_test

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/internal/exampledata"
	"aplomb/plots/report"
	"aplomb/plots/words"
)

func fittingSheet(t testing.TB, d report.Data) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.WriteFitting(&b, d))
	return b.String()
}

// shoeAt returns a shoe with the load at a place of both platforms, mm.
func shoeAt(code string, over, medial float64, like exampledata.ShoeCase) exampledata.ShoeCase {
	like.Shoe.Code = code
	like.At = [2]platform.Point{{medial, over}, {medial, over + 0.2}}
	return like
}

// compared returns the content of the sheets of a fitting, compared like a dancer's.
func compared(f exampledata.Fitting, pain bool) report.Data {
	c, err := compare.Results(f.Results, compare.Options{Pain: pain})
	if err != nil {
		panic(err)
	}
	c.Provenance = f.Comparison.Provenance
	return report.Data{Results: f.Results, Comparison: c}
}

// say adds remarks on a shoe to a comparison.
func say(c *compare.Comparison, code string, r measure.Remark) {
	c.Observations = append(c.Observations, compare.Observation{Recording: code, Shoes: measure.PerFoot[string]{Left: &code, Right: &code}, Remark: &r})
}

var longCode = strings.Repeat("W", 59) // and one more character makes 60

// twelveShoes returns twelve shoes with codes that begin alike.
func twelveShoes(code string) (cases []exampledata.ShoeCase) {
	for i := range 12 {
		like := exampledata.A
		if i%3 == 1 {
			like = exampledata.B
		}
		cases = append(cases, shoeAt(code+string(rune('A'+i)), -7+0.7*float64(i), float64(i%4)-2, like))
	}
	return cases
}

// crowdedFitting returns a fitting of twelve shoes with the longest codes, each with more
// remarks than fit.
func crowdedFitting() report.Data {
	d := compared(exampledata.New(1, 2, device.Feet[:], twelveShoes(longCode)...), false)
	withSaid(d.Comparison)
	return d
}

// fourShoes returns a fitting with as many shoes as are drawn, each with more remarks
// than fit.
func fourShoes() report.Data {
	d := compared(exampledata.New(1, 2, device.Feet[:], shoeAt(longCode+"A", -6, 0, exampledata.A), exampledata.A, exampledata.B, shoeAt("C<script>", 1, 0, exampledata.B)), false)
	withSaid(d.Comparison)
	return d
}

// painStop is the advice of a logbook after pain.
const painStop = "Stop: pain rose from 2 to 5 of 10. Hand over to the dancer's clinician. (From 4 on, or an increase of 2: our own cautious default.)"

// fittings returns fittings of many kinds by their names. Their comparisons are shared by
// the tests, and copied by those that change them.
var fittings = sync.OnceValue(func() map[string]report.Data {
	a, b := exampledata.A, exampledata.B
	c := shoeAt("C", -2.6, 0, b)
	nothing := exampledata.New(1, 2, device.Feet[:], a)
	for i := range nothing.Results[0].Releves {
		nothing.Results[0].Releves[i].Hold, nothing.Results[0].Releves[i].Status = nil, measure.Aborted
	}
	tiny, huge := a, b
	tiny.Shoe.Code, tiny.Shoe.PlatformMM = "tiny", [2]float64{20, 12}
	huge.Shoe.Code, huge.Shoe.PlatformMM = "huge", [2]float64{60, 40}
	out := map[string]report.Data{
		"one":     compared(exampledata.New(1, 3, device.Feet[:], a), false),
		"two":     compared(exampledata.New(1, 3, device.Feet[:], a, b), false),
		"three":   compared(exampledata.New(1, 6, device.Feet[:], a, b, c), false),
		"twelve":  compared(exampledata.New(1, 2, device.Feet[:], twelveShoes("T")...), false),
		"pain":    compared(exampledata.New(1, 3, device.Feet[:], a, b, c), true),
		"nothing": compared(nothing, false),
		"single":  compared(exampledata.New(1, 1, device.Feet[:], a, b), false),
		"foot":    compared(exampledata.New(1, 3, device.Feet[1:], a, b), false),
		"forty":   compared(exampledata.New(1, 40, device.Feet[:], a), false),
		"sizes":   compared(exampledata.New(1, 2, device.Feet[:], tiny, huge), false),
	}
	two, pain := out["two"], out["pain"]
	say(two.Comparison, "A", measure.Remark{Comfort: 2, Pinches: []string{"little toe"}, Saw: []string{"sinks"}})
	say(two.Comparison, "B", measure.Remark{Comfort: 4, Note: "rolls through evenly"})
	two.Comparison.VisitRecords = []measure.Visit{{Choice: "B", ChoiceWhy: "rolls through evenly"}}
	two5 := [2]int{2, 5}
	pain.Comparison.VisitRecords = []measure.Visit{{PainBefore: &two5[0], PainAfter: &two5[1], PainWhere: "right big toe"}}
	say(pain.Comparison, "B", measure.Remark{Pain: &two5[1]})
	pain.Seen = advise.Observations{Pain: true, Stop: painStop}
	pain.Comparison.Stop = painStop
	out["pain"] = pain
	return out
})

// copied returns one of fittings with a comparison that may be changed.
func copied(name string) report.Data {
	d := fittings()[name]
	c := *d.Comparison
	d.Comparison = &c
	return d
}

// shown returns every readable text of a page, including those in pictures.
func shown(page string) string {
	return regexp.MustCompile(`(?s)<style>.*?</style>|<script .*?</script>`).ReplaceAllString(page, "")
}

// Words that have no place on the sheet, and what a template leaves where something is
// wrong.
var (
	statistics = regexp.MustCompile(`(?i)\bkern\b|\bSD\b|±|\bp =|confidence|interval|deviation|\bstand\b`)
	broken     = regexp.MustCompile(`<nil>|%!|ZgotmplZ|\{\d\}`)
)

// For any results the sheet has no words of statistics, says to stop at pain, and has one
// place for initials.
func TestFittingSheetsSpeakPlainly(t *testing.T) {
	for name, d := range fittings() {
		html := fittingSheet(t, d)
		require.NoError(t, balanced(html), name)
		selfContained(t, html)
		page := shown(html)
		assert.Empty(t, statistics.FindAllString(page, -1), name)
		assert.Equal(t, name != "pain", strings.Contains(page, "Pain means stop."), name)
		assert.Equal(t, name == "pain", strings.Contains(page, "Stop dancing on pointe."), name)
		for _, once := range []string{"never diagnoses", "Initials", "The teacher's own words", "Date"} {
			assert.Equal(t, 1, strings.Count(text(html), once), "%s: %s", name, once)
		}
		assert.Empty(t, broken.FindAllString(page, -1), name)
	}
}

// The expected texts of the sheet for each kind of fitting are in order from top to
// bottom.
func TestFittingSheets(t *testing.T) {
	all := fittings()
	for name, want := range map[string][]string{
		"one": {"In A the weight is too far back on both feet (behind).", "The drawings look down", "Ring inside the target zone", "Shoe A platform 34 × 21 mm, tapered box, crown 22 mm, soft shank behind (pulled back): sure behind (pulled back): sure",
			"What to try next", "no published source", "A higher crown, if this one is low for the foot. (For both feet.) A good sign: the weight moves towards the front"},
		"two": {"The fitter's choice: shoe B. Why: rolls through evenly.", "Shoe A: 2 of 5, pinches at little toe. Shoe B: 4 of 5.",
			"In B the weight is in the right place on both feet (over the box). In A it is too far back (behind).", "Sure: by these numbers B is better than A on both feet.",
			"Fitter saw / dancer said: sinks", "Fitter saw / dancer said: “rolls through evenly”", "Shoe B: The measurement gives no reason to change anything.", words.Validated},
		"three":   {"The fitter's choice: shoe Why:", "How it felt to the dancer (1 = bad, 5 = good):", "In B the weight is in the right place", "that is not yet sure.", "Sure: by these numbers B", "better than A on both feet.", "Not yet sure: whether the weight is over the box in C", "would", "not yet sure"},
		"twelve":  {"the weight is in the right place on both feet (over the box)", "Not yet sure:", "Shoe TA", "behind: sure", "Shoe TL"},
		"pain":    {"Stop: pain rose from 2 to 5 of 10. Pain before the fitting: 2 of 10 (right big toe). Pain after: 5 of 10. In shoe B: 5 of 10. Worn last: shoe C. Stop dancing on pointe. See a doctor or physiotherapist before you try again. (We stop when pain reaches 4 of 10 or rises by 2 or more: our own cautious limit, not a medical rule.)", "What was measured before the stop", "Shoe A"},
		"nothing": {"No rise onto pointe could be measured.", "Shoe A nothing could be measured"},
		"single":  {"A single rise onto pointe does not tell where the weight is in A and B: more rises would", "one rise onto pointe only: not yet sure", "Measure more before changing anything"},
		"foot":    {"In B the weight is in the right place on the right foot (over the box). In A it is too far back (behind).", "Shoe A", "not measured behind (pulled back): sure"},
		"sizes":   {"In huge the weight is in the right place on both feet (over the box). In tiny it is too far back (behind)."},
	} {
		t.Run(name, func(t *testing.T) { inOrder(t, text(fittingSheet(t, all[name])), want...) })
	}
	pain := text(fittingSheet(t, all["pain"]))
	for _, not := range []string{"try next", "would tell", "fitter's choice", "Pain means", "barre", "Sure", "right place", "Hand over"} {
		assert.NotContains(t, pain, not)
	}
	for _, not := range []string{"warning", "assumed"} {
		assert.NotContains(t, text(fittingSheet(t, clean(all["two"]))), not)
	}
	assert.Contains(t, text(fittingSheet(t, report.Data{Comparison: all["two"].Comparison, Inches: true})), "platform 1.34 × 0.83 in, tapered box, crown 0.87 in")
	assert.ErrorContains(t, report.WriteFitting(&bytes.Buffer{}, report.Data{}), "comparison")
}

// clean returns a fitting without warnings.
func clean(d report.Data) report.Data {
	c := *d.Comparison
	c.Warnings = nil
	return report.Data{Results: d.Results, Comparison: &c}
}

// Four shoes are drawn: the fitter's choice first, and shoes over the box before others.
// Every shoe has a line, in the order worn.
func TestFittingSheetDrawsFourShoes(t *testing.T) {
	d := copied("twelve")
	drawn := func() []string {
		html := fittingSheet(t, d)
		var codes []string
		for _, m := range regexp.MustCompile(`role="img" [^>]*aria-label="([^"]*)"`).FindAllStringSubmatch(html, 1) {
			for _, code := range regexp.MustCompile(`Shoe (T.), left`).FindAllStringSubmatch(m[1], -1) {
				codes = append(codes, code[1])
			}
		}
		return codes
	}
	best := drawn()
	require.Len(t, best, 4)
	over := map[string]int{}
	for _, f := range d.Comparison.Shoes {
		if f.Verdict == measure.OverTheBox {
			over[f.Shoe]++
		}
	}
	for shoe, feet := range over {
		if feet == 2 {
			assert.Contains(t, best, shoe)
		}
	}
	assert.NotContains(t, best, "TB")
	d.Comparison.VisitRecords = []measure.Visit{{Choice: "TB"}}
	assert.Contains(t, drawn(), "TB")

	// The first recordings become the last.
	late := slices.Clone(d.Results)
	for i, r := range late {
		moved := *r
		moved.Meta.Started = d.Results[len(late)-1-i].Meta.Started
		late[i] = &moved
	}
	page := text(fittingSheet(t, report.Data{Results: late, Comparison: d.Comparison}))
	inOrder(t, page[strings.Index(page, "in the order worn"):], "Shoe TL", "Shoe TK", "Shoe TB", "Shoe TA")
}

// The sheet says what would settle every kind of open answer.
func TestOpenAnswersStateWhatWouldSettleThem(t *testing.T) {
	d := copied("two")
	for want, o := range map[string]*compare.Open{
		"Not yet sure: which of B and A is better on the left foot. One more rise onto pointe in each of them could settle it.": {
			Kind: compare.NotTold, Feet: "on the left foot", Shoes: []string{"A"}, Front: "B", Effort: compare.Effort{Releves: 1}},
		"Not yet sure: whether the weight is over the box in C. Measuring it once more, with the strips taken off and put on again, could settle it.": {
			Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Mountings: 2, Mounted: 1}},
		"in C. Measuring it 3 more times, with the strips taken off and put on again each time, could settle it.":   {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Mountings: 4, Mounted: 1}},
		"in C. Measuring it 4 times in all, with the strips taken off and put on again each time, could settle it.": {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Mountings: 4}},
		"in C. Measuring more would hardly tell.":                  {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Hopeless: true}},
		"in C. Measuring more would not tell, because days differ": {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Hopeless: true, Days: true}},
	} {
		d.Comparison.Parts.Open = []*compare.Open{o}
		assert.Contains(t, text(fittingSheet(t, d)), want)
	}
	d.Comparison.Parts.Open = []*compare.Open{{Kind: compare.NotClear, Shoes: []string{"A", "C"}, Front: "B", Effort: compare.Effort{Releves: 3}}}
	assert.NotContains(t, text(fittingSheet(t, d)), "Not yet sure:", "both verdicts are sure")
}

// A warning that may have changed the answer appears below it, with its shoe.
func TestWarningsStandBelowTheAnswer(t *testing.T) {
	d := clean(fittings()["two"])
	d.Comparison.Warnings = []measure.Warning{measure.Warn(measure.OneReleve, measure.Values{Shoe: "A"})}
	assert.NotContains(t, text(fittingSheet(t, d)), "warning", "the table says it")
	d.Comparison.Warnings = append(d.Comparison.Warnings, measure.Warn(measure.SeveralStrips, measure.Values{Shoe: "B"}), measure.Warn(measure.MountingsScatter, measure.Values{Shoe: "A"}))
	inOrder(t, text(fittingSheet(t, d)), "In B the weight is in the right place", "2 warnings about A and B may have changed this answer", "Shoe, in the order worn")
}

// The shoes tried give evidence for or against options to try next. If several properties
// changed at once, none is credited.
func TestEvidenceForWhatToTryNext(t *testing.T) {
	// The shoes tried give evidence for an option.
	showed := data(exampledata.Usual())
	withEvidence(showed.Comparison)
	showed.Comparison.Preferred = ""
	showed.Comparison.Ranking = []compare.RankedShoe{{Place: 1, Shoe: "A"}, {Place: 2, Shoe: "B"}}
	var tried bytes.Buffer
	require.NoError(t, report.WriteFitting(&tried, showed))
	assert.Contains(t, text(tried.String()), "A higher crown, if this one is low for the foot. (For both feet.)")
	assert.Contains(t, text(tried.String()), "more of the platform carries. The shoes tried speak for it.")
	assert.LessOrEqual(t, strings.Count(tried.String(), "<li><strong>"), 3)

	// Where several properties changed at once, none is credited.
	several := data(exampledata.Usual())
	withEvidence(several.Comparison)
	several.Comparison.Preferred, several.Comparison.Ranking = "", showed.Comparison.Ranking
	for i := range several.Comparison.Changes {
		change := &several.Comparison.Changes[i]
		change.Properties = append(change.Properties, compare.Property{Name: compare.Shank, From: "soft", To: "hard", By: 2})
	}
	var together bytes.Buffer
	require.NoError(t, report.WriteFitting(&together, several))
	assert.Contains(t, text(together.String()), "In the shoes tried it changed together with shank: no single cause.")
	assert.NotContains(t, text(together.String()), "speak for it")
}

// withSaid adds people's observations and remarks to a comparison, more of them than fit.
func withSaid(c *compare.Comparison) {
	long := strings.Repeat("W", 300)
	c.VisitRecords = []measure.Visit{{Name: "2026-03-14", Choice: c.Shoes[0].Shoe, ChoiceWhy: long}}
	three := 3
	for _, s := range c.Shoes {
		if s.Foot == device.Left {
			code := s.Shoe
			c.Observations = append(c.Observations, compare.Observation{
				Recording: "recording 1", Shoes: measure.PerFoot[string]{Left: &code, Right: &code},
				Notes:  []measure.Note{{TimeS: 12.4, Releve: 2, During: true, Text: long}},
				Remark: &measure.Remark{Saw: []string{"sickles", "sinks"}, Note: long, Comfort: 2, Pinches: []string{"little toe"}, Pain: &three, Decision: "use"},
			})
		}
	}
}

// withEvidence changes a comparison so that its shoes give evidence for or against
// options for the first shoe: each differs from it in one property.
func withEvidence(c *compare.Comparison) {
	for i := range c.Differences {
		d := &c.Differences[i]
		d.Support, d.Rise = c.Shoes[0].Support, c.Shoes[0].Rise
		d.Difference, d.CI95, d.Wording = 2, &[2]float64{1, 3}, compare.Clear
		if d.To == "E" {
			d.Difference, d.CI95 = -2, &[2]float64{-3, -1}
		}
		for name, to := range map[string]string{compare.Crown: "B", compare.PlatformWidth: "D", compare.Squareness: "E"} {
			if d.To == to || d.To == "B<script>" && to == "B" {
				c.Changes = append(c.Changes, compare.Change{From: d.From, To: d.To,
					Properties: []compare.Property{{Name: name, From: "1", To: "2", By: 1}}, Moved: []compare.Difference{*d}})
			}
		}
	}
}

// The section on what to try next begins with the shoe that the fitter chose: it is
// measured again if it is not certain that the weight is over the box in it. Without a
// choice all shoes that the numbers do not distinguish are named.
func TestWhatToTryNextBeginsWithTheChoice(t *testing.T) {
	d := copied("two")
	c := d.Comparison
	c.Shoes = slices.Clone(c.Shoes)
	for i := range c.Shoes {
		if c.Shoes[i].Shoe == "B" {
			c.Shoes[i].Verdict = measure.TooCloseToCall
		}
	}
	for want, e := range map[string]compare.Effort{
		"Measure shoe B once more, with the strips put on again. Why: it is not yet sure whether the weight is over the box in it.": {Mountings: 2, Mounted: 1},
		"Measure shoe B 2 more times, with the strips put on again each time.":                                                      {Mountings: 3, Mounted: 1},
		"Shoe B: whether the weight is over the box in it stays open":                                                               {Hopeless: true},
	} {
		c.Parts.Open = []*compare.Open{{Kind: compare.NotJudged, Shoes: []string{"B"}, Effort: e}}
		inOrder(t, text(fittingSheet(t, d)), "What to try next", want)
	}
	c.VisitRecords = []measure.Visit{{Choice: "A"}}
	inOrder(t, text(fittingSheet(t, d)), "What to try next", "Starting from shoe A; one change at a time.")

	d = copied("two")
	d.Comparison.VisitRecords, d.Comparison.Preferred = nil, ""
	d.Comparison.Shoes, d.Comparison.Observations = slices.Clone(d.Comparison.Shoes), nil
	for i := range d.Comparison.Shoes {
		d.Comparison.Shoes[i].Verdict = measure.OverTheBox
	}
	inOrder(t, text(fittingSheet(t, d)), "What to try next", "Shoes A and B: The measurement gives no reason to change anything.")
}

// The text for a shoe that is better on one foot only names the foot.
func TestBetterOnOneFootNamesTheFoot(t *testing.T) {
	d := copied("two")
	d.Comparison.Parts.Better = []compare.Better{
		{Shoe: "B", Than: []string{"C"}, Feet: []device.Foot{device.Right}},
		{Shoe: "B", Than: []string{"A"}, Feet: device.Feet[:]},
		{Shoe: "D", Than: []string{"A"}, Feet: device.Feet[:]},
	}
	inOrder(t, text(fittingSheet(t, d)), "Sure: by these numbers B and D are better than A on both feet.", "Sure: by these numbers B is better than C on the right foot.")
}
