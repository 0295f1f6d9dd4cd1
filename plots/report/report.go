// Package report writes results as self-contained HTML pages. The lab sheet has an
// abstract on its first page, and an appendix with the pictures, the tables, the methods,
// and cautions. The fitting sheet for dancer and teacher prints on one page, the progress
// sheet for the physiotherapist on two. The texts of all sheets are in texts.go, their
// layout is in the templates, in style.css, lab.css, fitting.css and progress.css.
package report

import (
	"bytes"
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"sync"

	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// Data is the input of the lab sheet and the fitting sheet. The same data give the
// same bytes.
type Data struct {
	Results    []*measure.Result // the lab sheet shows the traces of those that have them
	Comparison *compare.Comparison
	Inches     bool                // whether dimensions of shoes are in inches; measures are always in mm
	Seen       advise.Observations // what was seen at the fitting, for the fitting sheet's advice
}

//go:embed report.html
var pageText string

//go:embed style.css
var css string

//go:embed lab.css
var labCSS string

var page = sheet("report", pageText)

// sheet returns a function that returns a template. The template is parsed at the first
// call, so that commands without a sheet do not wait for it.
func sheet(name, text string) func() *template.Template {
	return sync.OnceValue(func() *template.Template { return template.Must(template.New(name).Funcs(functions).Parse(text)) })
}

// written returns the last line of a sheet: the program that computed its numbers, and
// what it was validated on.
func written(p *measure.Provenance) string {
	return say("written by", words.Software(p.Software), p.Algorithm, words.ValidatedOn(p))
}

// functions are the functions that the templates call.
var functions = template.FuncMap{
	"css":      func() template.CSS { return template.CSS(css) },
	"labCSS":   func() template.CSS { return template.CSS(labCSS) },
	"fitCSS":   func() template.CSS { return template.CSS(fittingCSS) },
	"say":      say,
	"foot":     footName,
	"ofDancer": ofDancer,
	"number":   words.Number,
	"percent":  func(v float64) string { return words.Number(100*v, 0) },
	"count":    words.Count,
	"bar":      bar,
}

// Write writes the lab sheet to w. It returns an error, and writes nothing, where there
// is no comparison or the comparison has no provenance; it also returns an error where w
// fails.
func Write(w io.Writer, d Data) error {
	switch {
	case d.Comparison == nil:
		return errors.New("a report needs a comparison")
	case d.Comparison.Provenance == nil:
		return errors.New("a report needs the provenance of its comparison")
	}
	v, err := newLabSheet(d)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := page().Execute(&b, v); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	_, err = w.Write(keepUnits(b.Bytes()))
	return err
}

// bar returns the length of the bar for a share, 0 to 1, as a percentage of the
// line, which leaves room for a number after it. A share of 0 has a bar too.
func bar(share float64) template.CSS {
	return template.CSS(fmt.Sprintf("%.1f%%", 0.5+65*share))
}

// labSheet is the input of the template of the lab sheet, in words. Its first page is an
// abstract: the answer, the picture, the declared measures and what they are based on.
// The rest is its appendix.
type labSheet struct {
	Data
	Title    string
	Running  string   // the title of the pages of the appendix
	Facts    []string // date, amount recorded and conditions
	Stop     string   // the advice to stop because of pain; empty for none
	Headline string   // the first sentence of the answer
	Rest     string   // the others; empty where it has one
	Findings []string // results for each foot
	Scope    []string // to whom it applies, how often each shoe was mounted, and what the main difference is based on
	Changing []string // warnings about what may have changed the answer
	Assumed  string   // what was assumed and not measured; empty for nothing
	Record   []string // all other warnings
	Said     []saidLine
	Figures  figures
	Tables   tables
	Strips   []stripLine
	Seats    []string // where each strip lay in each recording
	Shoes    []shoeLine
	Recorded []recordingLine
	Settings *measure.Settings
	OneShoe  bool
	Few      bool   // whether the table of verdicts fits on one page
	Whole    bool   // whether the abstract, and every measure, fit on a page
	SeatSD   bool   // whether the mounting repeatability of a strip is assumed
	Beside   bool   // whether the basis of the answer fits beside the picture
	Rows     string // the class of the pictures of shoe against shoe, by the number of their rows
	Written  string
}

func newLabSheet(d Data) (labSheet, error) {
	all := warnings(d)
	v := labSheet{
		Data:     d,
		Title:    ofDancer(say("lab over title"), d.Comparison.Dancer),
		Facts:    recorded(d),
		Stop:     stopOf(d),
		Findings: defined(d.Comparison.Findings),
		Scope:    scope(d),
		Changing: sentences(all, measure.ChangesAnswer),
		Assumed:  assumedOf(all),
		Record:   sentences(all, measure.ForRecord),
		Said:     remarkLines(d.Comparison),
		Tables:   newTables(d),
		Strips:   strips(d.Results),
		Seats:    seats(d.Results),
		Shoes:    shoes(d),
		Recorded: recordings(d),
		OneShoe:  len(d.Comparison.Differences) == 0,
		Few:      len(d.Comparison.Shoes) <= 12,
		Whole:    len(d.Comparison.Shoes) <= maxColumns,
		SeatSD:   seatAssumed(d.Comparison),
		Beside:   slices.Contains([]int{2, 3}, len(shoeNames(d.Comparison))),
		Rows:     rowsClass(d.Comparison),
		Written:  written(d.Comparison.Provenance),
	}
	v.Running = joined(append([]string{ofDancer(say("lab title"), d.Comparison.Dancer)}, days(d)...)...)
	v.Headline, v.Rest = headline(d.Comparison)
	if len(d.Results) > 0 {
		v.Settings = &d.Results[0].Settings
	}
	var err error
	v.Figures, err = newFigures(d)
	return v, err
}

// defined returns sentences in which the first mention of the kern explains it as the
// target zone.
func defined(findings []string) []string {
	out := slices.Clone(findings)
	for i, said := range out {
		if strings.Contains(said, say("lab kern")) {
			before, after, _ := strings.Cut(said, say("lab kern"))
			if aside, rest, some := strings.Cut(after, ")"); some && strings.HasPrefix(aside, " (") {
				after = ", " + strings.TrimPrefix(aside, " (") + rest
			}
			out[i] = before + say("lab target") + after
			break
		}
	}
	return out
}

// scope returns to whom the answer applies, how often each shoe was mounted, and the
// degrees of freedom of the difference on which the answer is based.
func scope(d Data) []string {
	c := d.Comparison
	if len(c.Shoes) == 0 {
		return nil
	}
	said := []string{say("lab scope day")}
	if n := c.Visits; n > 1 {
		said[0] = say("lab scope days", n)
	}
	var mounted []string
	names := shoeNames(c)
	for i, f := range c.Shoes {
		if i == 0 || c.Shoes[i-1].Shoe != f.Shoe {
			most := f.Mountings
			for _, o := range c.Shoes {
				if o.Shoe == f.Shoe {
					most = max(most, o.Mountings)
				}
			}
			mounted = append(mounted, say("lab mounted of", names[f.Shoe], most))
		}
	}
	said = append(said, say("lab mounted in", joined(mounted...)))
	if r := c.RestsOn; r != nil {
		for _, o := range c.Differences {
			if o.Measure == r.Measure && o.Foot == r.Foot && o.From == r.From && o.To == r.To && o.Conditions == r.Conditions && o.DOF != nil {
				said = append(said, say("lab rests dof", words.Number(*o.DOF, 0)))
			}
		}
	}
	return said
}

// rowsClass returns the class in lab.css for pictures with a row for each shoe. Their
// height determines how many of them fit on a page.
func rowsClass(c *compare.Comparison) string {
	switch n := len(shoeNames(c)); {
	case n <= 2:
		return "four-a-page"
	case n <= 4:
		return "three-a-page"
	case n <= 7:
		return "two-a-page"
	}
	return "one-a-page"
}

// headline returns the first sentence of the answer of a comparison, without a full stop,
// and the others.
func headline(c *compare.Comparison) (first, rest string) {
	first, rest, _ = strings.Cut(cmp.Or(c.Answer, c.Why), ". ")
	return strings.TrimSuffix(first, "."), rest
}

// seatAssumed reports whether a comparison warns of an assumed mounting
// repeatability.
func seatAssumed(c *compare.Comparison) bool {
	return slices.ContainsFunc(c.Warnings, func(w measure.Warning) bool { return w.Code == measure.SeatAssumed })
}

// warningOf is a warning with the file of the recording that it is about, "" for one of the
// comparison.
type warningOf struct {
	measure.Warning
	file string
}

// warnings returns the warnings of the comparison and of the recordings.
func warnings(d Data) (all []warningOf) {
	for _, w := range d.Comparison.Warnings {
		all = append(all, warningOf{w, ""})
	}
	for _, r := range d.Results {
		for _, w := range ofRecording(r) {
			all = append(all, warningOf{w, r.Recording.File})
		}
	}
	return all
}

// sentences returns the sentences of the warnings of one class.
func sentences(all []warningOf, class measure.Class) (out []string) {
	for _, w := range all {
		if w.Class != class {
			continue
		}
		text := words.Warning(w.Warning)
		if w.file != "" {
			text = say("lab warning of", w.file, text)
		}
		out = append(out, text)
	}
	return out
}

// assumedOf returns one sentence with everything that was assumed, "" for nothing.
func assumedOf(all []warningOf) string {
	var assumed []measure.Warning
	for _, w := range all {
		assumed = append(assumed, w.Warning)
	}
	return words.Assumed(assumed)
}

// ofRecording returns the warnings of a recording that are not among those of the
// comparison.
func ofRecording(r *measure.Result) []measure.Warning {
	return slices.DeleteFunc(slices.Clone(r.Warnings), func(w measure.Warning) bool { return w.Code == measure.Corrected })
}

func joined(parts ...string) string {
	var in []string
	for _, p := range parts {
		if p != "" {
			in = append(in, p)
		}
	}
	return strings.Join(in, ", ")
}
