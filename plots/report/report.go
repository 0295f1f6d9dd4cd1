// Package report writes what a fitting gave as one HTML page that holds
// everything itself: the answer, the pictures, the tables, how it was measured,
// and cautions. Beside that lab sheet there are two of one page each: the fitting
// sheet for dancer and teacher, the progress sheet for the physiotherapist. What
// they say is in words.go, how it is laid out in the templates and in style.css.
package report

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"

	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots"
	"aplomb/plots/words"
)

// Data is what a report is made from. The same data give the same bytes.
type Data struct {
	Results    []*measure.Result // with their traces, or the traces are left out
	Comparison *compare.Comparison
	SHA256     []string    // of the file of each result, in hexadecimal
	Version    string      // of the program that writes the report
	Inches     bool        // the dimensions of shoes in inches; what was measured stays in mm
	Seen       advise.Seen // what the fitting sheet's advice has to know beside the numbers
}

//go:embed report.html
var pageText string

//go:embed style.css
var css string

var page = sheet("report", pageText)

// sheet returns a template, made when it is first asked for: every command would
// have to wait for it otherwise.
func sheet(name, text string) func() *template.Template {
	return sync.OnceValue(func() *template.Template { return template.Must(template.New(name).Funcs(functions).Parse(text)) })
}

// functions are what every sheet's template may call.
var functions = template.FuncMap{
	"css":      func() template.CSS { return template.CSS(css) },
	"say":      say,
	"foot":     footName,
	"ofDancer": ofDancer,
	"number":   plots.Number,
	"percent":  func(v float64) string { return plots.Number(100*v, 0) },
	"count":    plots.Count,
	"bar":      bar,
}

// Write writes the page. Nothing reaches w where it fails before the end.
func Write(w io.Writer, d Data) error {
	switch {
	case d.Comparison == nil:
		return errors.New("a report needs a comparison")
	case len(d.SHA256) != len(d.Results):
		return fmt.Errorf("a report needs the SHA-256 of each recording: %d given for %d", len(d.SHA256), len(d.Results))
	}
	v, err := newView(d)
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

// bar is the length that stands for a share, of a line that keeps room for the
// figure after it; there is always something to see.
func bar(share float64) template.CSS {
	return template.CSS(fmt.Sprintf("%.1f%%", 0.5+80*share))
}

// view is what the page shows, already in words.
type view struct {
	Data
	Headline string
	Few      bool // shoes enough for their platforms to stand below the answer on one sheet
	Figures  figures
	Tables   tables
	Strips   []stripLine
	Shoes    []shoeLine
	Recorded []recorded
	Settings *measure.Settings
	Warnings []string
	OneShoe  bool
	Assumed  bool // the mounting repeatability is our assumption
	Written  string
}

func newView(d Data) (view, error) {
	v := view{
		Data:     d,
		Headline: headline(d.Comparison),
		Few:      len(d.Comparison.Shoes) <= 4,
		Tables:   newTables(d),
		Strips:   strips(d.Results),
		Shoes:    shoes(d),
		Recorded: recordings(d),
		Warnings: warnings(d),
		OneShoe:  len(d.Comparison.Differences) == 0,
		Written:  say("written by", d.Version),
	}
	for _, s := range v.Strips {
		v.Assumed = v.Assumed || s.SeatAssumed
	}
	if len(d.Results) > 0 {
		v.Settings = &d.Results[0].Settings
		if v.Settings.Version != d.Version {
			v.Written = say("lab written", d.Version, v.Settings.Version)
		}
	}
	var err error
	v.Figures, err = newFigures(d)
	return v, err
}

// headline is the answer in a few words.
func headline(c *compare.Comparison) string {
	if c.Answer != "" {
		return strings.TrimSuffix(c.Answer, ".")
	}
	var codes []string
	over := map[string]bool{}
	for _, f := range c.Shoes {
		if _, met := over[f.Shoe]; !met {
			codes = append(codes, f.Shoe)
			over[f.Shoe] = true
		}
		over[f.Shoe] = over[f.Shoe] && f.Verdict == measure.OverTheBox
	}
	switch {
	case len(codes) == 0:
		return say("answer none")
	case c.Preferred != "" && over[c.Preferred]:
		return say("answer over", c.Preferred)
	case c.Preferred != "":
		return say("answer better", c.Preferred)
	case len(codes) > 1:
		return say("answer unclear")
	case over[codes[0]]:
		return say("answer one over", codes[0])
	}
	return say("answer one where", codes[0])
}

// warnings gathers the warnings of the comparison and of every recording.
func warnings(d Data) []string {
	out := words.Warnings(d.Comparison.Warnings)
	for _, r := range d.Results {
		for _, w := range words.Warnings(r.Warnings) {
			out = append(out, r.Recording.File+": "+w)
		}
	}
	return out
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
