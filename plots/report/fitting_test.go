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
)

func fittingSheet(t testing.TB, d report.Data) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.WriteFitting(&b, d))
	return b.String()
}

// shoeAt returns a shoe in which the load sits at a place of both platforms, mm.
func shoeAt(code string, over, medial float64, like exampledata.ShoeCase) exampledata.ShoeCase {
	like.Shoe.Code = code
	like.At = [2]platform.Point{{medial, over}, {medial, over + 0.2}}
	return like
}

// compared returns the content of the sheets of a fitting, compared as a dancer's is.
func compared(f exampledata.Fitting, pain bool) report.Data {
	c, err := compare.Results(f.Results, compare.Options{Pain: pain})
	if err != nil {
		panic(err)
	}
	c.Provenance = f.Comparison.Provenance
	return report.Data{Results: f.Results, Comparison: c}
}

// say adds to a comparison what was said of a shoe.
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

// crowdedFitting returns a fitting of twelve shoes with the longest codes, and of each more
// was said than there is room for.
func crowdedFitting() report.Data {
	d := compared(exampledata.New(1, 2, device.Feet[:], twelveShoes(longCode)...), false)
	withSaid(d.Comparison)
	return d
}

// fourShoes returns a fitting with as many shoes as are drawn, and of each more was said than
// there is room for.
func fourShoes() report.Data {
	d := compared(exampledata.New(1, 2, device.Feet[:], shoeAt(longCode+"A", -6, 0, exampledata.A), exampledata.A, exampledata.B, shoeAt("C<script>", 1, 0, exampledata.B)), false)
	withSaid(d.Comparison)
	return d
}

// painStop is the advice of a logbook after pain.
const painStop = "Stop: pain rose from 2 to 5 of 10. Hand over to the dancer's clinician. (From 4 on, or a rise of 2: our own cautious default.)"

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

// shown returns everything on a page that a person reads, texts in pictures included.
func shown(page string) string {
	return regexp.MustCompile(`(?s)<style>.*?</style>|<script .*?</script>`).ReplaceAllString(page, "")
}

// Words that have no place on the sheet, and what a template leaves where something is
// wrong.
var (
	statistics = regexp.MustCompile(`(?i)\bkern\b|\bSD\b|±|\bp =|confidence|interval|deviation|\bstand\b`)
	broken     = regexp.MustCompile(`<nil>|%!|ZgotmplZ|\{\d\}`)
)

var stops = regexp.MustCompile(`(?i)\bstop`)

// Whatever was measured, the sheet has no words of statistics, says stop once, and has one
// place for initials.
func TestFittingSheetsSpeakPlainly(t *testing.T) {
	for name, d := range fittings() {
		html := fittingSheet(t, d)
		require.NoError(t, balanced(html), name)
		selfContained(t, html)
		page := shown(html)
		assert.Empty(t, statistics.FindAllString(page, -1), name)
		assert.Len(t, stops.FindAllString(text(html), -1), 1, name)
		for _, once := range []string{"never diagnoses", "Initials", "The teacher's own words", "Date"} {
			assert.Equal(t, 1, strings.Count(text(html), once), "%s: %s", name, once)
		}
		assert.Empty(t, broken.FindAllString(page, -1), name)
	}
}

// What the sheet says of each kind of fitting, from top to bottom.
func TestFittingSheets(t *testing.T) {
	all := fittings()
	for name, want := range map[string][]string{
		"one": {"In shoe A the load sits behind the target zone (pulled back) on both feet", "Shoe A platform 34 × 21 mm, tapered box, crown 22 mm, soft shank behind (pulled back): sure behind (pulled back): sure",
			"What to try next", "no published source", "A higher crown, if this one is low for the foot. (For both feet.) A good sign: the load moves towards the front"},
		"two": {"The fitter's choice: shoe B. Why: rolls through evenly.", "Shoe A: 2 of 5, pinches at little toe. Shoe B: 4 of 5.",
			"Over the box on both feet in B, behind in A", "Sure: by these numbers B is better than A.", "Seen and said: sinks", "Seen and said: “rolls through evenly”", "Shoe B: Nothing to change on these numbers."},
		"three":   {"The fitter's choice: shoe Why:", "How it felt to the dancer (1 bad to 5 good):", "Over the box on both feet in B", "Sure: by these numbers B", "better than A.", "Not yet sure: whether the load sits over the box in C", "would", "too close to call: not yet sure"},
		"twelve":  {"Over the box", "Not yet sure:", "Shoe TA", "behind: sure", "Shoe TL"},
		"pain":    {"Stop: pain rose from 2 to 5 of 10. Hand over to the dancer's clinician. (From 4 on", "Over the box on both feet in B", "Shoe A"},
		"nothing": {"No relevé could be measured", "Shoe A nothing could be measured"},
		"single":  {"A single relevé does not tell where the load sits in A and B: more relevés would", "one relevé only: not yet sure", "Nothing before it is clear where the load sits"},
		"foot":    {"Over the box on the right foot in B, behind in A", "Shoe A", "not measured behind (pulled back): sure"},
		"sizes":   {"Over the box on both feet in huge, behind in tiny"},
	} {
		t.Run(name, func(t *testing.T) { inOrder(t, text(fittingSheet(t, all[name])), want...) })
	}
	pain := text(fittingSheet(t, all["pain"]))
	for _, not := range []string{"try next", "would tell", "fitter's choice", "Pain means", "barre"} {
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

// Four shoes are drawn: the fitter's choice, and those that are over the box before others.
// All shoes have a line, in the order worn.
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

// What would make it sure is said for every kind of what is open.
func TestWhatIsNotSureYet(t *testing.T) {
	d := copied("two")
	for want, o := range map[string]*compare.Open{
		"Not yet sure: which of B and A is better on the left foot. One more relevé in each of them would tell.": {
			Kind: compare.NotTold, Feet: "on the left foot", Shoes: []string{"A"}, Front: "B", Effort: compare.Effort{Releves: 1}},
		"Not yet sure: whether B is better than A and C. 3 more relevés in each of them would tell.": {
			Kind: compare.NotClear, Shoes: []string{"A", "C"}, Front: "B", Effort: compare.Effort{Releves: 3}},
		"Not yet sure: whether the load sits over the box in C. Measuring it once more, with the strips put on anew, would tell.": {
			Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Mountings: 2, Mounted: 1}},
		"in C. Measuring it 3 more times, with the strips put on anew each time, would tell.":   {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Mountings: 4, Mounted: 1}},
		"in C. Measuring it 4 times in all, with the strips put on anew each time, would tell.": {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Mountings: 4}},
		"in C. Measuring more would hardly tell.":                                               {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Hopeless: true}},
		"in C. Measuring more would not tell, because days differ":                              {Kind: compare.NotJudged, Shoes: []string{"C"}, Effort: compare.Effort{Hopeless: true, Days: true}},
	} {
		d.Comparison.Parts.Open = []*compare.Open{o}
		assert.Contains(t, text(fittingSheet(t, d)), want)
	}
}

// A warning that may have changed the answer stands below it, with the shoe that it is of.
func TestWarningsStandBelowTheAnswer(t *testing.T) {
	d := clean(fittings()["two"])
	d.Comparison.Warnings = []measure.Warning{measure.Warn(measure.OneReleve, measure.Values{Shoe: "A"})}
	assert.NotContains(t, text(fittingSheet(t, d)), "warning", "the table says it")
	d.Comparison.Warnings = append(d.Comparison.Warnings, measure.Warn(measure.SeveralStrips, measure.Values{Shoe: "B"}), measure.Warn(measure.MountingsScatter, measure.Values{Shoe: "A"}))
	inOrder(t, text(fittingSheet(t, d)), "Over the box on both feet in B", "2 warnings about A and B may have changed this answer", "Shoe, in the order worn")
}

// The shoes tried speak for or against what could be tried next. Where several properties
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

// withSaid adds to a comparison what people see and say at a fitting, more of it than there
// is room for.
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
