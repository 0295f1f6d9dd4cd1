package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots"
)

//go:embed fitting.html
var fittingText string

var fittingPage = sheet("fitting", fittingText)

// mostWears is how many shoes' pictures one A4 page holds beside the words.
const mostWears = 4

// fitting is what the fitting sheet shows, already in words.
type fitting struct {
	Data
	Headline string
	On       string   // the day of the first recording
	Plain    []string // where the dancer stands, a line a shoe
	Wears    []wear
	Few      bool   // there is room to print them large
	More     string // how many shoes have no picture
	Next     *next  // absent where there is nothing to offer
	Assumed  bool
	Warned   string // how many warnings there are
}

type wear struct {
	Picture template.HTML
	Facts   string // what the shoe is
}

// WriteFitting writes the fitting sheet: one A4 page in plain words for dancer
// and teacher. The recordings' hashes are not in it. Nothing reaches w where it
// fails before the end.
func WriteFitting(w io.Writer, d Data) error {
	if d.Comparison == nil {
		return fmt.Errorf("a fitting sheet needs a comparison")
	}
	v := fitting{Data: d, Headline: shortened(headline(d.Comparison), 90), Next: whatNext(d)}
	for _, s := range strips(d.Results) {
		v.Assumed = v.Assumed || s.SeatAssumed
	}
	for _, r := range d.Results {
		if at := r.Meta.Started; !at.IsZero() && v.On == "" {
			v.On = date(at.UTC())
		}
	}
	if n := len(warnings(d)); n > 0 {
		v.Warned = say("fitting warnings", plots.Count(n, say("fitting warning one"), say("fitting warning many")))
	}
	wears := inOrder(plots.NewWears(d.Comparison), d.Comparison)
	for i, p := range wears {
		if i == mostWears {
			v.More = say("fitting more", plots.Count(len(wears)-i, say("fitting more shoe"), say("fitting more shoes")))
			break
		}
		svg, err := inline(p)
		if err != nil {
			return err
		}
		v.Wears = append(v.Wears, wear{svg, shortened(facts(p.Row, d.Inches), 120)})
		v.Plain = append(v.Plain, stands(p.Row))
	}
	v.Few = len(v.Wears) <= 2 || v.Next == nil
	var b bytes.Buffer
	if err := fittingPage().Execute(&b, v); err != nil {
		return fmt.Errorf("writing the fitting sheet: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// inOrder puts the shoes in the order of their places, where they have any, so
// that those without a picture are the last ones.
func inOrder(wears []*plots.Wear, c *compare.Comparison) []*plots.Wear {
	at := func(w *plots.Wear) int {
		return slices.IndexFunc(c.Ranking, func(s compare.Standing) bool { return s.Shoe == code(w.Row) })
	}
	slices.SortStableFunc(wears, func(a, b *plots.Wear) int { return at(a) - at(b) })
	return wears
}

func code(row plots.PlatformRow) string {
	for _, f := range row.Feet {
		if f != nil {
			return f.Shoe
		}
	}
	return ""
}

// stands says in a line where the dancer stands in a shoe.
func stands(row plots.PlatformRow) string {
	var parts []string
	for _, f := range row.Feet {
		if f != nil {
			parts = append(parts, say("fitting stands", footName(f.Foot), plots.VerdictWords(f.Verdict, f.Measures[measure.Medial].Mean)))
		}
	}
	return shortened(row.Title, 60) + ": " + strings.Join(parts, ", ") + "."
}

// facts says what a shoe is.
func facts(row plots.PlatformRow, inches bool) string {
	for _, f := range row.Feet {
		if f != nil {
			return inShort(f.Profile, inches)
		}
	}
	return ""
}

// shortened keeps what users wrote from pushing the sheet on to a second page.
func shortened(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most/2]) + "…" + string(r[len(r)-most/2:])
}
