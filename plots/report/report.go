// Package report writes results as self-contained HTML pages. The lab sheet has
// the answer, the pictures, the tables, how it was measured, and cautions. Two
// sheets print on one page each: the fitting sheet for dancer and teacher, and
// the progress sheet for the physiotherapist. The texts of all sheets are in
// texts.go, their layout is in the templates and in style.css.
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

var page = sheet("report", pageText)

// sheet returns a function that returns a template. The template is parsed at the
// first call, so that commands that write no sheet do not wait for it.
func sheet(name, text string) func() *template.Template {
	return sync.OnceValue(func() *template.Template { return template.Must(template.New(name).Funcs(functions).Parse(text)) })
}

// written returns the last line of a sheet: by what its numbers were computed, and on what
// that was validated.
func written(p *measure.Provenance) string {
	return say("written by", words.Software(p.Software), p.Algorithm, words.ValidatedOn(p))
}

// functions are the functions that the templates call.
var functions = template.FuncMap{
	"css":      func() template.CSS { return template.CSS(css) },
	"fitCSS":   func() template.CSS { return template.CSS(fittingCSS) },
	"say":      say,
	"foot":     footName,
	"ofDancer": ofDancer,
	"number":   words.Number,
	"percent":  func(v float64) string { return words.Number(100*v, 0) },
	"count":    words.Count,
	"bar":      bar,
}

// Write writes the lab sheet to w. It returns an error where there is no comparison
// or the comparison has no provenance, in which cases it writes nothing, and where w
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
	_, err = w.Write(b.Bytes())
	return err
}

// bar returns the length of the bar for a share, 0 to 1, as a percentage of the
// line, which leaves room for a number after it. A share of 0 has a bar too.
func bar(share float64) template.CSS {
	return template.CSS(fmt.Sprintf("%.1f%%", 0.5+80*share))
}

// labSheet is what the template of the lab sheet shows, in words.
type labSheet struct {
	Data
	Headline string // the first sentence of the answer
	Rest     string // the others; empty where it has one
	Stop     string // the advice to stop because of pain; empty for none
	Said     []saidLine
	Few      bool // whether answer and platforms fit on the first printed page
	Figures  figures
	Tables   tables
	Strips   []stripLine
	Seats    []string // where each strip lay in each recording
	Shoes    []shoeLine
	Recorded []recordingLine
	Settings *measure.Settings
	Warnings []string
	OneShoe  bool
	Assumed  bool // whether the mounting repeatability of a strip is assumed
	Written  string
}

func newLabSheet(d Data) (labSheet, error) {
	v := labSheet{
		Data:     d,
		Stop:     stopOf(d),
		Said:     said(d.Comparison),
		Few:      len(d.Comparison.Shoes) <= 4,
		Tables:   newTables(d),
		Strips:   strips(d.Results),
		Seats:    seats(d.Results),
		Shoes:    shoes(d),
		Recorded: recordings(d),
		Warnings: warnings(d),
		OneShoe:  len(d.Comparison.Differences) == 0,
		Assumed:  seatAssumed(d.Comparison),
		Written:  written(d.Comparison.Provenance),
	}
	v.Headline, v.Rest = headline(d.Comparison)
	if len(d.Results) > 0 {
		v.Settings = &d.Results[0].Settings
	}
	var err error
	v.Figures, err = newFigures(d)
	return v, err
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

// warnings returns the sentences of the warnings of the comparison and of the
// recordings.
func warnings(d Data) []string {
	out := words.Warnings(d.Comparison.Warnings)
	for _, r := range d.Results {
		for _, w := range words.Warnings(ofRecording(r)) {
			out = append(out, r.Recording.File+": "+w)
		}
	}
	return out
}

// ofRecording returns the warnings of a recording that the comparison does not have too.
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
