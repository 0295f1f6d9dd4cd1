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

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots"
	"aplomb/plots/words"
)

//go:embed fitting.html
var fittingText string

var fittingPage = sheet("fitting", fittingText)

// maxWears is the number of pictures that one A4 page holds beside the text.
const maxWears = 4

// fitting is what the template of the fitting sheet shows, in words.
type fitting struct {
	Data
	Headline string
	Stop     string   // the advice to stop because of pain; empty for none
	Choices  []string // the fitter's
	Said     []string // what was seen and said, a line for each shoe
	Written  string
	On       string   // date of the first recording
	Plain    []string // the rest of the answer, then where the load sits, a line for each shoe
	Wears    []wear
	Few      bool   // whether there is room to print the pictures large
	More     string // the number of shoes without a picture; empty where all have one
	Next     *next  // nil where there is no advice
	Assumed  bool   // whether the mounting repeatability of a strip is assumed
	Warned   string // the number of warnings that may have changed the answer; empty where there are none
}

// wear is the picture of one shoe.
type wear struct {
	Picture template.HTML
	Facts   string // a short description of the shoe
}

// WriteFitting writes the fitting sheet to w: one A4 page in plain words for dancer
// and teacher, on which the recordings' hashes are not shown. It returns an error
// where there is no comparison or the comparison has no provenance, in which cases it
// writes nothing, and where w fails.
func WriteFitting(w io.Writer, d Data) error {
	if d.Comparison == nil || d.Comparison.Provenance == nil {
		return errors.New("a fitting sheet needs a comparison with its provenance")
	}
	v := fitting{Data: d, Written: written(d.Comparison.Provenance), Next: nextOf(d), Assumed: seatAssumed(d.Comparison),
		Stop: stopOf(d), Choices: choices(d.Comparison.VisitRecords), Said: saidOfShoes(d.Comparison.Observations)}
	first, rest := headline(d.Comparison)
	v.Headline = shortened(first, 160)
	if rest != "" {
		v.Plain = append(v.Plain, rest)
	}
	for _, r := range d.Results {
		if at := r.Meta.Started; !at.IsZero() && v.On == "" {
			v.On = date(at.UTC())
		}
	}
	if n := countChanging(d); n > 0 {
		v.Warned = say("fitting warnings", words.Count(n, say("fitting warning one"), say("fitting warning many")))
	}
	wears := inOrder(plots.NewWears(d.Comparison), d.Comparison)
	for i, p := range wears {
		if i == maxWears {
			v.More = say("fitting more", words.Count(len(wears)-i, say("fitting more shoe"), say("fitting more shoes")))
			break
		}
		svg, err := inline(p)
		if err != nil {
			return err
		}
		v.Wears = append(v.Wears, wear{svg, shortened(facts(p.Row, d.Inches), 120)})
		v.Plain = append(v.Plain, whereLoadSits(p.Row))
	}
	v.Few = len(v.Wears) <= 2 || v.Next == nil && v.Said == nil
	var b bytes.Buffer
	if err := fittingPage().Execute(&b, v); err != nil {
		return fmt.Errorf("writing the fitting sheet: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// inOrder sorts the pictures by the places of their shoes, where the comparison
// ranks them, so that shoes in the last places are those left without a picture.
func inOrder(wears []*plots.Wear, c *compare.Comparison) []*plots.Wear {
	at := func(w *plots.Wear) int {
		return slices.IndexFunc(c.Ranking, func(s compare.RankedShoe) bool { return s.Shoe == shoeCode(w.Row) })
	}
	slices.SortStableFunc(wears, func(a, b *plots.Wear) int { return at(a) - at(b) })
	return wears
}

// shoeCode returns the code of the shoe of a row.
func shoeCode(row plots.PlatformRow) string {
	for _, f := range row.Feet {
		if f != nil {
			return f.Shoe
		}
	}
	return ""
}

// whereLoadSits returns the verdicts of a shoe, foot by foot.
func whereLoadSits(row plots.PlatformRow) string {
	var parts []string
	for _, f := range row.Feet {
		if f != nil {
			parts = append(parts, say("fitting stands", footName(f.Foot), words.Verdict(f.Verdict, f.Misses, f.Measures[measure.Medial].Mean)))
		}
	}
	return shortened(row.Title, 60) + ": " + strings.Join(parts, ", ") + "."
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

// shortened replaces the middle of a text that users wrote by an ellipsis where it
// has more than most characters, so that the sheet stays on one page.
func shortened(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most/2]) + "…" + string(r[len(r)-most/2:])
}
