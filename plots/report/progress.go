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

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/plots"
	"aplomb/plots/words"
)

// ProgressMeasures are the measures that a progress sheet shows, in this order.
// The first one gives the sheet's headline. A measure without a follow-up in
// ProgressData.FollowUps is left out.
var ProgressMeasures = []measure.Measure{measure.Over, measure.ContactShare, measure.LoadShare, measure.Load}

// ProgressData is what a progress sheet is made from.
type ProgressData struct {
	Dancer     string              // code
	Watched    string              // the side being watched: left, right, or "" for neither
	Visits     []Visit             // by time
	FollowUps  []*track.FollowUp   // at most one for each of ProgressMeasures; others are ignored
	Provenance *measure.Provenance // of all FollowUps
}

// Visit is what a progress sheet shows of a visit besides the measures. Fields that
// are not known have their zero value.
type Visit struct {
	Name                  string // as in track.Row
	Day                   time.Time
	Support, Rise         string
	Position, Floor       string
	PainBefore, PainAfter *int // 0 to 10
	MassKG                float64
	SingleLeg             measure.PerFoot[int] // rises on one leg that the dancer managed
	Choice                string               // the shoe that the fitter chose
	Note                  string
	Notice                string // shown above everything else if the visit is the last one
}

//go:embed progress.html
var progressText string

var progressPage = sheet("progress", progressText)

// These limits keep the sheet on one A4 page.
const (
	maxVisits = 6   // lines of the table of visits
	maxText   = 16  // characters of a text that users wrote
	maxNotes  = 240 // characters of the notes of all visits together
	maxBeside = 3   // panels of trends beside those of the first measure; the table has every measure
)

// progress is what the template of the progress sheet shows, in words.
type progress struct {
	ProgressData
	Span, Headline string
	Leads          []string
	Notice         string
	Other          string // series that are not on the sheet
	Trends         []template.HTML
	Groups         []changeGroup
	Lines          []visitLine
	About          []string // notes on all visits together
	Footnotes      []footnote
	AnyPain        bool
	AnyWeight      bool
	AnySingleLeg   bool
	AnyNote        bool
	Strips         []string // warnings about the strips
	Written        string
}

// WriteProgress writes the progress sheet to w: one A4 page for the
// physiotherapist. The sheet shows, for each side, the shoe and conditions with the
// most visits, and names the others. WriteProgress returns an error where no relevé
// was followed, where the provenance is missing and where Watched is no side, in which
// cases it writes nothing, and where w fails.
func WriteProgress(w io.Writer, d ProgressData) error {
	measures := mainSeries(d.FollowUps)
	if len(measures) == 0 {
		return errors.New("no relevé was followed: there is no progress to show")
	}
	if d.Provenance == nil {
		return errors.New("a progress sheet needs the provenance of its numbers")
	}
	if _, err := device.ParseFoot(d.Watched); err != nil {
		return fmt.Errorf("the side being watched: %w", err)
	}
	p := progress{
		ProgressData: d, Span: span(d.Visits), Headline: progressHeadline(measures[0]), Leads: []string{followed(len(d.Visits), measures[0])},
		Other: others(d.FollowUps, measures), Strips: ofStrips(d.FollowUps), Written: written(d.Provenance),
	}
	if d.Watched != "" {
		p.Leads = append(p.Leads, say("progress watched", say(d.Watched)))
	}
	if n := len(d.Visits); n > 0 {
		p.Notice = d.Visits[n-1].Notice
	}
	if err := p.addMeasures(measures); err != nil {
		return err
	}
	p.addVisits(measures)
	var b bytes.Buffer
	if err := progressPage().Execute(&b, p); err != nil {
		return fmt.Errorf("writing the progress sheet: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// ofStrips returns the warnings of follow-ups that are about strips, each once.
func ofStrips(all []*track.FollowUp) (texts []string) {
	for _, f := range all {
		for _, w := range f.Warnings {
			if text := words.Warning(w); w.Values.Strip != "" && !slices.Contains(texts, text) {
				texts = append(texts, text)
			}
		}
	}
	return texts
}

// addMeasures adds the lines of each measure to the table, and its trend where
// there is room.
func (p *progress) addMeasures(measures []sheetMeasure) error {
	beside := 0
	for _, m := range measures {
		if m.Measure == measure.Load && slices.ContainsFunc(measures, func(o sheetMeasure) bool { return o.Measure == measure.LoadShare }) {
			continue // load is shown as a share of the body weight instead
		}
		p.Groups = append(p.Groups, m.changes(p.Watched))
		first := len(p.Trends) == 0
		if !first {
			if beside += len(m.sides); beside > maxBeside {
				continue
			}
		}
		trend := m.trend(p.Watched)
		trend.NoLegend = !first
		svg, err := inline(trend)
		if err != nil {
			return err
		}
		p.Trends = append(p.Trends, svg)
	}
	return nil
}

// sheetMeasure is one measure with the series that the sheet shows, one a side.
type sheetMeasure struct {
	words.Display
	sides []track.Series
}

// sidesOf returns the sides that the sheet shows of a measure. It shows the
// difference between the feet for the first measure only.
func sidesOf(m measure.Measure) []track.Side {
	switch m {
	case ProgressMeasures[0]:
		return []track.Side{track.Left, track.Right, track.Between}
	case measure.LoadShare:
		return []track.Side{track.Both}
	}
	return []track.Side{track.Left, track.Right}
}

// mainSeries returns the measures that have a follow-up, each with the series of
// every side that has the most visits.
func mainSeries(all []*track.FollowUp) (out []sheetMeasure) {
	for _, m := range ProgressMeasures {
		i := slices.IndexFunc(all, func(f *track.FollowUp) bool { return f.Measure == m })
		if i < 0 {
			continue
		}
		shown := sheetMeasure{Display: words.DisplayOf(m)}
		for _, side := range sidesOf(m) {
			var best *track.Series
			for j := range all[i].Series {
				if s := &all[i].Series[j]; s.Side == side && len(s.Points) > 0 && (best == nil || hasMoreVisits(s, best)) {
					best = s
				}
			}
			if best != nil {
				shown.sides = append(shown.sides, *best)
			}
		}
		if len(shown.sides) > 0 {
			out = append(out, shown)
		}
	}
	return out
}

// hasMoreVisits reports whether a has more visits than b, or as many and a later
// last one.
func hasMoreVisits(a, b *track.Series) bool {
	if len(a.Points) != len(b.Points) {
		return len(a.Points) > len(b.Points)
	}
	return a.Points[len(a.Points)-1].At.After(b.Points[len(b.Points)-1].At)
}

// progressHeadline returns the change of a measure at the last visit, foot by foot.
func progressHeadline(m sheetMeasure) string {
	var changes []string
	for _, s := range m.sides {
		if s.Side != track.Between || len(m.sides) == 1 {
			changes = append(changes, say("progress said", sideName(s.Side), m.lastChange(s)))
		}
	}
	return say("progress answer", m.Title, strings.Join(changes, "; "))
}

func (m sheetMeasure) lastChange(s track.Series) string {
	last := s.Points[len(s.Points)-1]
	switch {
	case len(s.Points) == 1:
		return say("progress one visit")
	case last.Change == nil:
		return say("progress at reference")
	}
	wording := string(last.Wording)
	if wording == "" {
		wording = say("progress unknown")
	}
	return joined(m.Difference(*last.Change, nil), wording)
}

func sideName(s track.Side) string {
	return say(map[track.Side]string{
		track.Left: "progress side left", track.Right: "progress side right",
		track.Between: "progress side between", track.Both: "progress side both",
	}[s])
}

// markedSide returns the name of a side, marked where it is the one being watched.
func markedSide(s track.Side, watched string) string {
	if string(s) == watched {
		return say("progress watched mark", sideName(s))
	}
	return sideName(s)
}

// shoeAndConditions returns the shoe and the conditions of a series.
func shoeAndConditions(s track.Series) string {
	return joined(shortened(s.Shoe, maxText), shortened(s.Support, maxText), shortened(s.Rise, maxText))
}

// followed returns the number of visits, and the shoes in which they are followed.
func followed(visits int, m sheetMeasure) string {
	var in []string
	for _, s := range m.sides {
		if s.Side != track.Between || len(m.sides) == 1 {
			in = append(in, shoeAndConditions(s))
		}
	}
	key := "progress followed"
	if in = slices.Compact(in); len(in) > 1 {
		key = "progress each"
	}
	return say(key, words.Count(visits, say("progress visit"), say("progress visits")), strings.Join(in, "; "))
}

// others names the shoes and conditions that the sheet does not show.
func others(all []*track.FollowUp, measures []sheetMeasure) string {
	var on, off []string
	for _, m := range measures {
		for _, s := range m.sides {
			on = append(on, shoeAndConditions(s))
		}
	}
	for _, f := range all {
		for _, s := range f.Series {
			if in := shoeAndConditions(s); s.Side != track.Between && !slices.Contains(on, in) && !slices.Contains(off, in) {
				off = append(off, in)
			}
		}
	}
	if off == nil {
		return ""
	}
	return say("progress other", shortened(strings.Join(off, "; "), 5*maxText))
}

func span(visits []Visit) string {
	if len(visits) == 0 {
		return ""
	}
	first, last := date(visits[0].Day), date(visits[len(visits)-1].Day)
	if first == last {
		return first
	}
	return say("progress span", first, last)
}

func date(t time.Time) string { return t.Format(say("date")) }

// trend returns the picture of the measure, a panel a side.
func (m sheetMeasure) trend(watched string) *plots.Trend {
	p := plots.NewTrend(&track.FollowUp{Measure: m.Measure, Series: m.sides})
	for i, s := range m.sides {
		p.Panels[i].Title = say("progress panel", markedSide(s.Side, watched))
		if s.Side == track.Between || s.Side == track.Both {
			p.Panels[i].Title = sideName(s.Side)
		}
	}
	return p
}
