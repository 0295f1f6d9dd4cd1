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
	"aplomb/device"
	"aplomb/plots"
)

//go:embed fitting.html
var fittingText string

var fittingPage = template.Must(template.New("fitting").Funcs(words).Parse(fittingText))

// mostWears is how many shoes' pictures one A4 page holds beside the words.
const mostWears = 4

// fitting is what the fitting sheet shows, already in words.
type fitting struct {
	Data
	Headline string
	On       string   // the day of the first recording
	Plain    []string // where the dancer stands, a line a shoe
	Wears    []wear
	More     int // shoes without a picture
	Assumed  bool
	Warnings []string
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
	v := fitting{Data: d, Headline: shortened(headline(d.Comparison), 90), Warnings: warnings(d)}
	for _, s := range strips(d.Results) {
		v.Assumed = v.Assumed || s.SeatAssumed
	}
	for _, r := range d.Results {
		if at := r.Meta.Started; !at.IsZero() && v.On == "" {
			v.On = at.UTC().Format("2 January 2006")
		}
	}
	wears := inOrder(plots.NewWears(d.Comparison), d.Comparison)
	for i, p := range wears {
		if i == mostWears {
			v.More = len(wears) - i
			break
		}
		svg, err := inline(p)
		if err != nil {
			return err
		}
		v.Wears = append(v.Wears, wear{svg, shortened(facts(p.Row, d.Inches), 120)})
		v.Plain = append(v.Plain, stands(p.Row))
	}
	var b bytes.Buffer
	if err := fittingPage.Execute(&b, v); err != nil {
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
			parts = append(parts, f.Foot.String()+" foot "+plots.VerdictWords(f.Verdict, f.Measures["medial_mm"].Mean))
		}
	}
	return shortened(row.Title, 60) + ": " + strings.Join(parts, ", ") + "."
}

// facts says what a shoe is.
func facts(row plots.PlatformRow, inches bool) string {
	for _, f := range row.Feet {
		if f != nil {
			return describe(f.Profile, inches)
		}
	}
	return ""
}

func describe(s device.Shoe, inches bool) string {
	var platform, crown, shank string
	if len(s.OutlineMM) == 0 {
		platform = "platform " + length(s.PlatformMM[0], inches) + " × " + lengthWithUnit(s.PlatformMM[1], inches)
	}
	if s.CrownMM > 0 {
		crown = "crown " + lengthWithUnit(s.CrownMM, inches)
	}
	if s.Shank != "" {
		shank = s.Shank + " shank"
	}
	box := ""
	if s.Box != "" {
		box = s.Box + " box"
	}
	return joined(platform, box, crown, shank)
}

// mmPerInch is exact (the international yard and pound agreement of 1959, from memory).
const mmPerInch = 25.4

// length writes a dimension of a shoe to the nearest 0.5 mm that a ruler gives, or 0.01 inch.
func length(mm float64, inches bool) string {
	if inches {
		return plots.Number(mm/mmPerInch, 2)
	}
	return strings.TrimSuffix(plots.Number(mm, 1), ".0")
}

func lengthWithUnit(mm float64, inches bool) string {
	if inches {
		return length(mm, inches) + " in"
	}
	return length(mm, inches) + " mm"
}

// shortened keeps what users wrote from pushing the sheet on to a second page.
func shortened(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most/2]) + "…" + string(r[len(r)-most/2:])
}
