package report

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots"
	"aplomb/plots/words"
)

//go:embed fitting.html
var fittingText string

//go:embed fitting.css
var fittingCSS string

var fittingPage = sheet("fitting", fittingText)

// Limits that keep the fitting sheet on one A4 or Letter page.
const (
	maxDrawn = 4  // shoes with a picture
	maxCode  = 24 // characters of a code in a sentence
	maxFacts = 90 // characters of a shoe's description
	maxLines = 30 // lines to write on
)

// roomFor returns the limits that depend on the number of shoes: characters of a shoe's
// code in a sentence; sentences about which shoes are better, and about what is not sure
// yet; characters of the remarks about one shoe.
func roomFor(c *compare.Comparison) (code, sentences, remarks int) {
	shoes := map[string]bool{}
	for _, f := range c.Shoes {
		shoes[f.Shoe] = true
	}
	switch {
	case len(shoes) > maxDrawn:
		return maxCode / 2, 1, maxOneShoe / 2
	case len(shoes) > 2:
		return maxCode / 2, 2, maxOneShoe / 2
	}
	return maxCode, 2, maxOneShoe
}

// Widths of the pictures: between the margins of A4 and Letter, and on a telephone.
const (
	fittingWide   = 19 * vg.Centimeter
	fittingNarrow = 9 * vg.Centimeter
)

// fitting is the input of the template of the fitting sheet, in words.
type fitting struct {
	Data
	Of      string // the dancer and the date of the first recording
	Stop    *stop  // nil where there is no reason to stop
	Choices []string
	Comfort []string // what the dancer said of each shoe
	ToFill  bool     // whether there are blank lines for a choice and for comfort that were not entered

	Headline []string // sentences
	Long     bool     // whether the headline is so long that it is written smaller
	Sure     []string // which shoes are better than others
	Known    []string // what else is known
	Open     []string // what is not sure yet
	Ring     bool     // whether a ring is drawn
	Warned   string   // the number of warnings that may have changed the answer; empty where there are none

	Picture []template.HTML // one or none
	Narrow  []template.HTML // the same for a telephone, a picture for each shoe
	Shoes   []fittedShoe
	Many    bool     // whether there are so many shoes that each line of them is cut
	Mixed   []string // what was seen where the feet wore different shoes

	Next    *next // nil where there is no advice
	Lines   [maxLines]struct{}
	Assumed bool // whether the mounting repeatability of a strip is assumed
	// Validated is what the method was validated on, and what that means.
	Validated string
	Written   string
}

// fittedShoe is one shoe under one set of conditions, a line of the sheet.
type fittedShoe struct {
	Name, Facts string
	Feet        [2]string // verdict and whether it is sure, by foot
	Said        string    // what was seen and said; empty for a shoe without a picture
	None        bool      // nothing was measured in it
}

// WriteFitting writes the fitting sheet to w: one A4 or Letter page in plain words for
// dancer and teacher, on which the recordings' hashes are not shown. It returns an error
// where there is no comparison or the comparison has no provenance, in which cases it
// writes nothing, and where w fails.
func WriteFitting(w io.Writer, d Data) error {
	if d.Comparison == nil || d.Comparison.Provenance == nil {
		return errors.New("a fitting sheet needs a comparison with its provenance")
	}
	v, err := newFitting(d)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := fittingPage().Execute(&b, v); err != nil {
		return fmt.Errorf("writing the fitting sheet: %w", err)
	}
	_, err = w.Write(keepUnits(b.Bytes()))
	return err
}

func newFitting(d Data) (fitting, error) {
	c := d.Comparison
	v := fitting{
		Data: d, Choices: choices(c.VisitRecords), Comfort: comforts(c.Observations), Mixed: seenInMixed(c.Observations),
		Next: nextOf(d), Assumed: seatAssumed(c), Stop: newStop(d),
		Validated: say("fitting validated", words.Validated),
		Written:   say("fitting written", words.Software(c.Provenance.Software), c.Provenance.Algorithm),
	}
	v.ToFill = v.Stop == nil
	if c.Dancer != "" {
		v.Of = say("fitting dancer", shortened(c.Dancer, maxCode))
	}
	if at := firstStarted(d.Results, func(*measure.Result) bool { return true }); !at.IsZero() {
		v.Of = joined(v.Of, date(at))
	}
	if v.Stop == nil || len(c.Shoes) == 0 {
		for _, sentence := range headlineOf(c) {
			v.Headline = append(v.Headline, plain(c, sentence))
		}
		v.answer()
	} else {
		v.Headline = []string{say("fitting before stop")}
	}
	v.Long = len(strings.Join(v.Headline, " ")) > maxOneShoe
	v.Warned = plain(c, otherWarnings(d))
	p := plots.NewPlace(c)
	rows := inOrderWorn(p.Rows, d.Results)
	p.Rows = firstPlaces(rows, c)
	for _, row := range rows {
		drawn := slices.ContainsFunc(p.Rows, func(r plots.PlatformRow) bool { return r.Name == row.Name })
		v.Shoes = append(v.Shoes, newFittedShoe(row, d, drawn))
	}
	for _, code := range unmeasured(c) {
		v.Shoes = append(v.Shoes, fittedShoe{Name: shortened(code, maxCode), None: true})
	}
	v.Many = len(v.Shoes) > maxDrawn
	if len(p.Rows) == 0 {
		return v, nil
	}
	return v, v.draw(p)
}

// draw adds the pictures of the shoes, with one legend in plain words.
func (v *fitting) draw(p *plots.Place) error {
	p.Plain, p.Wide = true, fittingWide
	for i := range p.Rows {
		p.Rows[i].Facts = "" // they are in the table
		for foot, f := range p.Rows[i].Feet {
			if f != nil && !judged(f) {
				open := *f
				open.Verdict = measure.TooCloseToCall
				p.Rows[i].Feet[foot] = &open
			}
			if f != nil {
				_, ring := f.Ring()
				v.Ring = v.Ring || ring
			}
		}
	}
	svg, err := inline(p)
	if err != nil {
		return err
	}
	v.Picture = []template.HTML{template.HTML(strings.Replace(string(svg), "xMinYMin", "xMidYMin", 1))}
	for _, one := range p.Each(fittingNarrow) {
		if svg, err = inline(one); err != nil {
			return err
		}
		v.Narrow = append(v.Narrow, svg)
	}
	return nil
}

// answer adds what else is known, and what is not sure yet.
func (v *fitting) answer() {
	c := v.Comparison
	v.Sure = betterTexts(c)
	if c.Parts.Verdicts != "" { // otherwise the headline contains what is known
		for _, known := range c.Parts.Known {
			v.Known = append(v.Known, plain(c, firstUpper(known))+".")
		}
	}
	_, sentences, _ := roomFor(c)
	for _, o := range c.Parts.Open {
		// Where both verdicts are sure, an unclear difference between them is confusing
		// and decides nothing.
		if o.Kind != compare.NotClear && len(v.Open) < sentences {
			v.Open = append(v.Open, plain(c, openText(o)))
		}
	}
}

// headlineOf returns where the weight is in each shoe, in words for a dancer, without the
// advice to stop, which precedes it on the sheet.
func headlineOf(c *compare.Comparison) []string {
	if said := plainHeadline(c.Parts.Sittings); said != nil {
		return said
	}
	first, _ := headline(&compare.Comparison{Answer: strings.TrimSpace(strings.TrimSuffix(c.Answer, compare.Stop)), Why: c.Why})
	return []string{say("sentence", first)}
}

// plainTexts pairs texts of a comparison with their replacements on the sheet.
var plainTexts = [][2]string{
	{"kern", "fitting kern"},
	{"where the load", "fitting where"},
	{"is nearer than", "fitting nearer"},
	{"single releve", "fitting single rise"},
	{"no releve", "fitting no rise"},
	{"more releves", "fitting more rises"},
}

// plain returns a sentence of a comparison in the words of the sheet, in which long codes of
// shoes are shortened.
func plain(c *compare.Comparison, text string) string {
	most, _, _ := roomFor(c)
	for _, f := range c.Shoes {
		if short := shortened(f.Shoe, most); short != f.Shoe {
			text = strings.ReplaceAll(text, f.Shoe, short)
		}
	}
	for _, one := range plainTexts {
		text = strings.ReplaceAll(text, say(one[0]), say(one[1]))
	}
	return text
}

// betterTexts returns which shoes are better than others, and on which feet. Shoes that
// are better than the same ones on the same feet are in one sentence, and those that are
// better than most come first.
func betterTexts(c *compare.Comparison) (texts []string) {
	var groups [][]compare.Better
	for _, b := range c.Parts.Better {
		i := slices.IndexFunc(groups, func(g []compare.Better) bool {
			return slices.Equal(g[0].Than, b.Than) && slices.Equal(g[0].Feet, b.Feet)
		})
		if i < 0 {
			i, groups = len(groups), append(groups, nil)
		}
		groups[i] = append(groups[i], b)
	}
	slices.SortStableFunc(groups, func(a, b []compare.Better) int { return len(b[0].Than)*len(b[0].Feet) - len(a[0].Than)*len(a[0].Feet) })
	_, sentences, _ := roomFor(c)
	for _, g := range groups[:min(len(groups), sentences)] {
		var shoes []string
		for _, b := range g {
			shoes = append(shoes, b.Shoe)
		}
		key := "fitting better"
		if len(shoes) > 1 {
			key = "fitting better all"
		}
		texts = append(texts, plain(c, say(key, namedShoes(shoes), namedShoes(g[0].Than), feetNamed(g[0].Feet))))
	}
	return texts
}

// openText returns what is not sure yet, and what would decide it.
func openText(o *compare.Open) string {
	feet := o.Feet
	if feet != "" {
		feet = " " + feet
	}
	shoes := o.Shoes
	var said string
	if o.Kind == compare.NotTold {
		shoes = append([]string{o.Front}, shoes...)
		said = say("fitting open told", feet, namedShoes(shoes))
	} else {
		said = say("fitting open judged", feet, namedShoes(shoes))
	}
	each := say("fitting open it")
	if len(shoes) > 1 {
		each = say("fitting open each")
	}
	return said + " " + effortText(o.Effort, each)
}

// effortText returns what would decide an open question; each is the name for the shoes.
func effortText(e compare.Effort, each string) string {
	switch more := e.Mountings - e.Mounted; {
	case e.Days:
		return say("fitting effort days")
	case e.Hopeless:
		return say("fitting effort hopeless")
	case e.Mountings == 0 && e.Releves == 1:
		return say("fitting effort one", each)
	case e.Mountings == 0:
		return say("fitting effort some", e.Releves, each)
	case e.Mounted == 0:
		return say("fitting effort in all", e.Mountings, each)
	case more == 1:
		return say("fitting effort mounting", each)
	default:
		return say("fitting effort mountings", more, each)
	}
}

// newFittedShoe returns the line of a shoe.
func newFittedShoe(row plots.PlatformRow, d Data, drawn bool) fittedShoe {
	maxName, _, maxRemarks := roomFor(d.Comparison)
	s := fittedShoe{Name: shortened(row.Name, maxName), Facts: shortened(facts(row, d.Inches), maxFacts)}
	for foot, f := range row.Feet {
		if f != nil {
			s.Feet[foot] = verdictText(f, drawn)
		}
	}
	if drawn {
		s.Said = shortened(seenIn(d.Comparison.Observations, codeOf(row)), maxRemarks)
	}
	return s
}

// verdictText returns the verdict of a shoe on a foot and whether it is sure, in short
// words where inFull is false.
func verdictText(f *compare.ShoeFoot, inFull bool) string {
	medial := f.Measures[measure.Medial]
	verdict := words.ShortVerdict(f.Verdict, f.Misses, medial.Mean)
	if inFull {
		verdict = words.Verdict(f.Verdict, f.Misses, medial.Mean)
	}
	switch {
	case !judged(f):
		return say("fitting single")
	case f.Verdict == measure.TooCloseToCall:
		return words.NotYetSure
	}
	return say("fitting sure", verdict)
}

// judged reports whether there are enough relevés of a shoe on a foot to judge it.
func judged(f *compare.ShoeFoot) bool { return f.Measures[measure.Over].CI95 != nil }

// wordedWarnings are the warnings that other sentences of the sheet express.
var wordedWarnings = []measure.Code{measure.NothingMeasured, measure.OneReleve, measure.FootNotMeasured, measure.NotCompared}

// otherWarnings returns the sentence about how many warnings of the comparison and of the
// recordings, other than wordedWarnings, may have changed the answer, and for which
// shoes; "" where there are none.
func otherWarnings(d Data) string {
	n := 0
	var shoes []string
	add := func(warnings []measure.Warning, of ...string) {
		for _, w := range measure.OfClass(warnings, measure.ChangesAnswer) {
			if slices.Contains(wordedWarnings, w.Code) {
				continue
			}
			n++
			if w.Values.Shoe != "" {
				shoes = append(shoes, w.Values.Shoe)
			} else {
				shoes = append(shoes, of...)
			}
		}
	}
	add(d.Comparison.Warnings)
	for _, r := range d.Results {
		var of []string
		for _, shoe := range []*string{r.Recording.Shoes.Left, r.Recording.Shoes.Right} {
			if shoe != nil {
				of = append(of, *shoe)
			}
		}
		add(ofRecording(r), of...)
	}
	if n == 0 {
		return ""
	}
	slices.Sort(shoes)
	about := ""
	if shoes = slices.Compact(shoes); len(shoes) > 0 && len(shoes) <= maxDrawn {
		about = say("fitting warned shoes", listed(shoes))
	}
	return say("fitting warnings", words.Count(n, say("fitting warning one"), say("fitting warning many")), about)
}

// unmeasured returns the shoes in which nothing was measured, by the warnings of a
// comparison.
func unmeasured(c *compare.Comparison) (codes []string) {
	for _, w := range c.Warnings {
		shoe := w.Values.Shoe
		if w.Code == measure.NothingMeasured && !slices.Contains(codes, shoe) &&
			!slices.ContainsFunc(c.Shoes, func(f compare.ShoeFoot) bool { return f.Shoe == shoe }) {
			codes = append(codes, shoe)
		}
	}
	return codes
}

// inOrderWorn sorts shoes by the time of their first recording, where all recordings have one.
func inOrderWorn(rows []plots.PlatformRow, results []*measure.Result) []plots.PlatformRow {
	worn := map[string]time.Time{}
	for _, row := range rows {
		first := firstStarted(results, func(r *measure.Result) bool { return isOf(r, row) })
		if first.IsZero() {
			return rows
		}
		worn[row.Name] = first
	}
	slices.SortStableFunc(rows, func(a, b plots.PlatformRow) int { return worn[a.Name].Compare(worn[b.Name]) })
	return rows
}

// isOf reports whether a recording is of a shoe of a row, under its conditions.
func isOf(r *measure.Result, row plots.PlatformRow) bool {
	for foot, f := range row.Feet {
		side := r.Meta.Sides[foot]
		if f == nil || side == nil || side.Shoe == nil || side.Shoe.Code != codeOf(row) {
			continue
		}
		if r.Meta.Support == f.Support && r.Meta.Rise == f.Rise {
			return true
		}
	}
	return false
}

// firstStarted returns when the first of some recordings began, in UTC; the zero time
// where that is not known.
func firstStarted(results []*measure.Result, of func(*measure.Result) bool) (first time.Time) {
	for _, r := range results {
		if at := r.Meta.Started; of(r) && !at.IsZero() && (first.IsZero() || at.Before(first)) {
			first = at
		}
	}
	return first.UTC()
}

// firstPlaces returns the shoes that are drawn, in the order of rows. Where there are too
// many it selects the one that the fitter chose, then those in the first places of the
// comparison, and of these those that are, or may be, over the box on most feet.
func firstPlaces(rows []plots.PlatformRow, c *compare.Comparison) (drawn []plots.PlatformRow) {
	rank := func(row plots.PlatformRow) int {
		if slices.ContainsFunc(c.VisitRecords, func(v measure.Visit) bool { return v.Choice == codeOf(row) }) {
			return -1
		}
		place := 0
		for _, s := range c.Ranking {
			if s.Shoe == labelOf(row) {
				place = 10 * s.Place
			}
		}
		for _, f := range row.Feet {
			switch {
			case f != nil && f.Verdict == measure.OverTheBox:
			case f != nil && f.Verdict == measure.TooCloseToCall:
				place++
			default:
				place += 2
			}
		}
		return place
	}
	best := slices.Clone(rows)
	slices.SortStableFunc(best, func(a, b plots.PlatformRow) int { return rank(a) - rank(b) })
	best = best[:min(len(best), maxDrawn)]
	for _, row := range rows {
		if slices.ContainsFunc(best, func(b plots.PlatformRow) bool { return b.Name == row.Name }) {
			drawn = append(drawn, row)
		}
	}
	return drawn
}

// labelOf returns the label of the shoe of a row, which is its code, with a number where
// one code has several descriptions.
func labelOf(row plots.PlatformRow) string {
	for _, f := range row.Feet {
		if f != nil {
			return f.Shoe
		}
	}
	return ""
}

// codeOf returns the code of the shoe of a row.
func codeOf(row plots.PlatformRow) string {
	for _, f := range row.Feet {
		if f != nil {
			return f.Profile.Code
		}
	}
	return ""
}

// facts describes the shoe of a row.
func facts(row plots.PlatformRow, inches bool) string {
	for _, f := range row.Feet {
		if f != nil {
			return shortDescription(f.Profile, inches)
		}
	}
	return ""
}

// listed lists words: A, B and C.
func listed(all []string) string {
	if len(all) < 2 {
		return strings.Join(all, "")
	}
	last := len(all) - 1
	return say("fitting and", strings.Join(all[:last], ", "), all[last])
}

// firstUpper returns a text with an upper-case first letter.
func firstUpper(text string) string {
	if text == "" {
		return ""
	}
	r := []rune(text)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}

// shortened replaces the middle of a user's text by an ellipsis where it has more than
// most characters, so that the sheet fits on one page.
func shortened(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most/2]) + "…" + string(r[len(r)-most/2:])
}
