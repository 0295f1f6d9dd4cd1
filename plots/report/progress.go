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
)

// ProgressMeasures are the measures that a progress sheet shows, the one that
// answers at the head. It takes each from ProgressData.FollowUps, where it is.
var ProgressMeasures = []measure.Measure{measure.Over, measure.ContactShare, measure.LoadShare, measure.Load}

// ProgressData is what a progress sheet is made from.
type ProgressData struct {
	Dancer    string            // code
	Watched   string            // the side being watched: left, right, or "" for neither
	Visits    []Visit           // by time
	FollowUps []*track.FollowUp // each another of ProgressMeasures; others are not shown
	Version   string            // of the program that writes the sheet
}

// Visit is what a progress sheet says of a visit beside the measures. What is
// not known is left at its zero.
type Visit struct {
	Name                  string // as in track.Row
	Day                   time.Time
	Support, Rise         string
	Position, Floor       string
	PainBefore, PainAfter *int // 0 to 10
	MassKG                float64
	Notice                string // what has to be said first if the visit is the last one
}

//go:embed progress.html
var progressText string

var progressPage = sheet("progress", progressText)

// What one A4 page holds.
const (
	mostVisits = 6  // lines of the visits' table
	mostText   = 16 // letters of what users wrote
	mostBeside = 3  // panels of trends beside the first measure's; the table has every measure
)

// progress is what the progress sheet shows, already in words.
type progress struct {
	ProgressData
	Span, Headline string
	Leads          []string
	Notice         string
	Other          string // series that are not on the sheet
	Trends         []template.HTML
	Groups         []changeGroup
	Holds          string // what the least known band holds, where that is not what it is meant to
	Lines          []visitLine
	About          []string // of all visits together
	Notes          []note
	AnyPain        bool
	AnyWeight      bool
	Written        string
}

// WriteProgress writes the progress sheet: one A4 page for the physiotherapist.
// Of every side it follows the shoe and conditions with the most visits, and
// names the others. Nothing reaches w where it fails before the end.
func WriteProgress(w io.Writer, d ProgressData) error {
	shown := mainSeries(d.FollowUps)
	if len(shown) == 0 || len(shown[0].sides) == 0 {
		return errors.New("no relevé was followed: there is no progress to show")
	}
	if _, err := device.ParseFoot(d.Watched); d.Watched != "" && err != nil {
		return fmt.Errorf("the side being watched: %w", err)
	}
	p := progress{
		ProgressData: d, Span: span(d.Visits), Headline: answer(shown[0]), Leads: []string{followed(len(d.Visits), shown[0])},
		Other: others(d.FollowUps, shown), Written: say("written by", d.Version),
	}
	if d.Watched != "" {
		p.Leads = append(p.Leads, say("progress watched", say(d.Watched)))
	}
	if n := len(d.Visits); n > 0 {
		p.Notice = d.Visits[n-1].Notice
	}
	if err := p.measures(shown); err != nil {
		return err
	}
	p.Holds = leastKnown(shown)
	p.visits(shown)
	var b bytes.Buffer
	if err := progressPage().Execute(&b, p); err != nil {
		return fmt.Errorf("writing the progress sheet: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// measures adds the trend of each measure, as far as there is room, and its lines
// in the table.
func (p *progress) measures(shown []shownMeasure) error {
	beside := 0
	for _, m := range shown {
		if m.Measure == measure.Load && slices.ContainsFunc(shown, func(o shownMeasure) bool { return o.Measure == measure.LoadShare }) {
			continue // it serves for the body weight
		}
		p.Groups = append(p.Groups, m.changes(p.Watched))
		first := len(p.Trends) == 0
		if !first {
			if beside += len(m.sides); beside > mostBeside {
				continue
			}
		}
		trend := m.trend(p.Watched)
		trend.Bare = !first
		svg, err := inline(trend)
		if err != nil {
			return err
		}
		p.Trends = append(p.Trends, svg)
	}
	return nil
}

// shownMeasure is one measure with the series of each side that the sheet shows.
type shownMeasure struct {
	plots.Shown
	sides []track.Series
}

// sidesOf are the sides that are shown of a measure. The difference between the
// feet is shown of the first alone.
func sidesOf(m measure.Measure) []track.Side {
	switch m {
	case ProgressMeasures[0]:
		return []track.Side{track.Left, track.Right, track.Between}
	case measure.LoadShare:
		return []track.Side{track.Both}
	}
	return []track.Side{track.Left, track.Right}
}

// mainSeries takes of every measure and side the series that has most to say.
func mainSeries(all []*track.FollowUp) (out []shownMeasure) {
	for _, name := range ProgressMeasures {
		i := slices.IndexFunc(all, func(f *track.FollowUp) bool { return f.Measure == name })
		if i < 0 {
			continue
		}
		m := shownMeasure{Shown: plots.Show(name)}
		for _, side := range sidesOf(name) {
			var best *track.Series
			for j := range all[i].Series {
				if s := &all[i].Series[j]; s.Side == side && len(s.Points) > 0 && (best == nil || saysMore(s, best)) {
					best = s
				}
			}
			if best != nil {
				m.sides = append(m.sides, *best)
			}
		}
		if len(m.sides) > 0 {
			out = append(out, m)
		}
	}
	return out
}

// saysMore prefers more visits, and of as many the later ones.
func saysMore(a, b *track.Series) bool {
	if len(a.Points) != len(b.Points) {
		return len(a.Points) > len(b.Points)
	}
	return a.Points[len(a.Points)-1].At.After(b.Points[len(b.Points)-1].At)
}

// answer is what the last visit says of the first measure, foot by foot.
func answer(m shownMeasure) string {
	var said []string
	for _, s := range m.sides {
		if s.Side != track.Between || len(m.sides) == 1 {
			said = append(said, say("progress said", sideName(s.Side), m.lastChange(s)))
		}
	}
	return say("progress answer", m.Title, strings.Join(said, "; "))
}

func (m shownMeasure) lastChange(s track.Series) string {
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

func watched(s track.Side, side string) string {
	if string(s) == side {
		return say("progress watched mark", sideName(s))
	}
	return sideName(s)
}

// wornIn says in which shoe and under which conditions a series was followed.
func wornIn(s track.Series) string {
	return joined(shortened(s.Shoe, mostText), shortened(s.Support, mostText), shortened(s.Rise, mostText))
}

// followed says how many visits there were, and in which shoes they are followed.
func followed(visits int, m shownMeasure) string {
	var in []string
	for _, s := range m.sides {
		if s.Side != track.Between || len(m.sides) == 1 {
			in = append(in, wornIn(s))
		}
	}
	key := "progress followed"
	if in = slices.Compact(in); len(in) > 1 {
		key = "progress each"
	}
	return say(key, plots.Count(visits, say("progress visit"), say("progress visits")), strings.Join(in, "; "))
}

// others names the shoes and conditions of which the sheet shows nothing.
func others(all []*track.FollowUp, shown []shownMeasure) string {
	var on, off []string
	for _, m := range shown {
		for _, s := range m.sides {
			on = append(on, wornIn(s))
		}
	}
	for _, f := range all {
		for _, s := range f.Series {
			if in := wornIn(s); s.Side != track.Between && !slices.Contains(on, in) && !slices.Contains(off, in) {
				off = append(off, in)
			}
		}
	}
	if off == nil {
		return ""
	}
	return say("progress other", shortened(strings.Join(off, "; "), 5*mostText))
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

// trend draws the measure, a panel a side.
func (m shownMeasure) trend(side string) *plots.Trend {
	p := plots.NewTrend(&track.FollowUp{Measure: m.Measure, Series: m.sides})
	for i, s := range m.sides {
		p.Panels[i].Title = say("progress panel", watched(s.Side, side))
		if s.Side == track.Between || s.Side == track.Both {
			p.Panels[i].Title = sideName(s.Side)
		}
	}
	return p
}
