package report

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/plots/words"
)

// ProgressMeasures are the measures on a progress sheet, in this order. The first two
// give the position of the load. A measure without a follow-up in ProgressData.FollowUps
// is left out.
var ProgressMeasures = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.LoadShare, measure.Load}

// ProgressData is the input of a progress sheet.
type ProgressData struct {
	Dancer     string              // code
	Watched    string              // the side being watched: left, right, or "" for neither
	Visits     []Visit             // by time
	FollowUps  []*track.FollowUp   // at most one for each of ProgressMeasures; others are ignored
	Provenance *measure.Provenance // of all FollowUps
	Ruler      bool                // the kern is that of the outline measured with a ruler, not of the bearing outline
}

// Visit is the information about a visit on a progress sheet other than the measures.
// Unknown fields have their zero value.
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
	Notice                string // the advice to stop because of pain; "" for none
}

// Stop returns the advice to stop of the last visit with pain recorded, "" for none.
func (d ProgressData) Stop() string {
	if i := d.lastAsked(); i >= 0 {
		return d.Visits[i].Notice
	}
	return ""
}

// lastAsked returns the last visit with pain recorded, -1 for none.
func (d ProgressData) lastAsked() int {
	for i := len(d.Visits) - 1; i >= 0; i-- {
		if v := d.Visits[i]; v.asked() || v.Notice != "" {
			return i
		}
	}
	return -1
}

// asked reports whether pain was recorded.
func (v Visit) asked() bool { return v.PainBefore != nil || v.PainAfter != nil }

//go:embed progress.html
var progressText string

//go:embed progress.css
var progressCSS template.CSS

var progressPage = sheet("progress", progressText)

// progress is the input of the template of the progress sheet, in words.
type progress struct {
	ProgressData
	Style          template.CSS
	Span, Headline string
	Lead           string
	Roomy          bool         // whether the page of tables has room for larger type
	Close          bool         // whether lines are close in print
	Wide           template.CSS // width of a picture in print
	Notice         string
	Answers        []answer
	Columns        []trendColumn
	Other          string // series that are not on the sheet
	Groups         []changeGroup
	Visits         visitTable
	Strips         []string // warnings about the strips
	Kern           bool     // whether the sheet has a kern
	Band           bool     // whether it has a band of noise
	AnyWeight      bool
	Written        string
}

// answer is a question of the reader with its answer, one sentence per line.
type answer struct {
	Question string
	Answer   []string
}

// WriteProgress writes the progress sheet to w, for the clinician: the answer with its
// picture on one page, the statistics and the visits on another. Each side is shown in
// the shoe and conditions with the most visits, and in others at visits without these. It
// returns an error, and writes nothing, where no relevé was followed, where the
// provenance is missing and where Watched is no side; it also returns an error where w
// fails.
func WriteProgress(w io.Writer, d ProgressData) error {
	s := newProgressSeries(d)
	if len(s.measures) == 0 {
		return errors.New("no relevé was followed: there is no progress to show")
	}
	if d.Provenance == nil {
		return errors.New("a progress sheet needs the provenance of its numbers")
	}
	if _, err := device.ParseFoot(d.Watched); err != nil {
		return fmt.Errorf("the side being watched: %w", err)
	}
	p := progress{
		ProgressData: d, Style: progressCSS, Span: span(d.Visits), Headline: s.headline(), Lead: s.lead(), Notice: s.notice(),
		Answers: s.answers(), Other: s.others(), Visits: s.visitTable(), Strips: ofStrips(d.FollowUps), Written: written(d.Provenance),
	}
	p.AnyWeight = slices.ContainsFunc(d.Visits, func(v Visit) bool { return s.bodyWeight(v) != "" })
	for _, m := range s.measures {
		p.Groups = append(p.Groups, s.changes(m))
	}
	for _, f := range s.feet {
		p.Kern = p.Kern || f.kern != nil
		for _, one := range f.over.shown {
			p.Band = p.Band || one.Repeat != nil
		}
	}
	var err error
	if p.Columns, err = s.columns(); err != nil {
		return err
	}
	notes := 0
	for _, f := range p.Visits.Footnotes {
		notes += len(f.Text)
	}
	lines := len(p.Visits.Lines)
	for _, g := range p.Groups {
		lines += len(g.Lines)
	}
	p.Roomy = lines <= roomyLines && notes <= roomyNotes
	p.fit()
	var b bytes.Buffer
	if err := progressPage().Execute(&b, p); err != nil {
		return fmt.Errorf("writing the progress sheet: %w", err)
	}
	_, err = w.Write(keepUnits(b.Bytes()))
	return err
}

// Number of lines of both tables, and of characters of footnotes, up to which the page of
// tables has larger type.
const (
	roomyLines = 16
	roomyNotes = 250
)

// Space for the texts and the pictures of an answer on a printed page, mm. They are our
// own measurements of the page in print, on Letter paper, which is lower than A4.
const (
	roomMM     = 200 // of texts and pictures
	lineMM     = 4.2 // height of a line
	closeMM    = 3.7 // of a close one
	mostLines  = 24  // that are not close
	narrowMM   = 60  // width of the smallest pictures
	wideMM     = 94  // of the largest ones
	lineLetter = 102 // letters of a line of the answers
)

// fit makes line spacing and pictures as small as necessary for the texts to fit in
// print.
func (p *progress) fit() {
	of := func(text string, letters float64) float64 {
		n := 0.0
		for _, r := range text {
			n++
			if unicode.IsUpper(r) {
				n += 0.7 // capital letters of the font are 1.3 to 1.9 times as wide as small ones
			}
		}
		return math.Ceil(n / letters)
	}
	n := 1.7*of(p.Headline, 62) + of(p.Lead+p.Other, lineLetter+10) + 1.4*of(p.Notice, lineLetter-10)
	for _, a := range p.Answers {
		n += 0.2
		for _, sentence := range a.Answer {
			n += of(sentence, lineLetter)
		}
	}
	line := lineMM
	if p.Close = n > mostLines; p.Close {
		line = closeMM
	}
	feet, both := 0.0, 0.0 // heights of pictures for their width
	for _, c := range p.Columns {
		if c.Both {
			both = max(both, c.tall)
		} else {
			feet = max(feet, c.tall)
		}
	}
	tall := feet
	if both > 0 {
		tall += both
		n += 1.6 // their heading
	}
	p.Wide = template.CSS(strconv.FormatFloat(max(narrowMM, min(wideMM, (roomMM-line*n)/tall)), 'f', 1, 64) + "mm")
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

// notice returns the advice to stop, with its day where that is not the last visit.
func (s *progressSeries) notice() string {
	i := s.lastAsked()
	if s.Stop() == "" || i == len(s.Visits)-1 {
		return s.Stop()
	}
	return say("progress stop then", s.Stop(), date(s.Visits[i].Day))
}

// headline returns where the load sits now.
func (s *progressSeries) headline() string {
	if len(s.feet) == 2 && s.feet[0].placeText() == s.feet[1].placeText() && s.feet[0].when(s) == s.feet[1].when(s) {
		return say("progress both", s.feet[0].placeText(), s.dated())
	}
	var places []string
	for _, f := range s.feet {
		place := say("progress on foot", f.placeText(), s.footWatched(f.side))
		if then := f.when(s); then != "" {
			place = say("progress then", place, then)
		}
		places = append(places, place)
	}
	return say("progress sits", strings.Join(places, say("progress and")), s.dated())
}

// dated returns the day of the last visit with a relevé and, where it applies to every
// foot measured, that it is the first in a shoe.
func (s *progressSeries) dated() string {
	day := date(s.lastMeasured())
	for _, f := range s.feet {
		if len(f.over.shown) < 2 || len(f.now.points) > 1 || f.now.Shoe != s.feet[0].now.Shoe {
			return day
		}
	}
	return say("progress new shoe", day, shortened(s.feet[0].now.Shoe, maxText))
}

// lead returns the sentence about the number of visits, their shoes, and whether the last
// one has no relevé.
func (s *progressSeries) lead() string {
	parts := []string{s.followed()}
	if n := len(s.Visits); n > 0 {
		if last := s.Visits[n-1]; !s.measuredIn(last) {
			parts = append(parts, say("progress unmeasured", date(last.Day)))
		}
	}
	if s.Watched != "" && len(s.feet) < 2 {
		parts = append(parts, say("progress watched", say(s.Watched)))
	}
	return strings.Join(parts, " ")
}

// followed returns the number of visits, and the shoes in which they are followed.
func (s *progressSeries) followed() string {
	visits := max(len(s.Visits), 1)
	if len(s.Visits) == 0 {
		for _, f := range s.feet {
			n := 0
			for _, one := range f.over.shown {
				n += len(one.points)
			}
			visits = max(visits, n)
		}
	}
	var in []string
	for _, f := range s.feet {
		var shoes []string
		for i, one := range f.over.shown {
			shoe := shoeAndConditions(one.Series)
			if i > 0 {
				shoe = say("progress from", shoe, date(one.points[0].At))
			}
			shoes = append(shoes, shoe)
		}
		in = append(in, shortened(strings.Join(shoes, "; "), maxShoes))
	}
	count := words.Count(visits, say("progress visit"), say("progress visits"))
	if slices.Equal(slices.Compact(slices.Clone(in)), in[:1]) {
		return say("progress followed", count, in[0])
	}
	return say("progress each", count, in[0], in[1])
}

// others names the shoes and conditions that the sheet does not show.
func (s *progressSeries) others() string {
	var on, off []string
	for _, m := range s.measures {
		for _, side := range m.sides {
			for _, one := range side.shown {
				on = append(on, shoeAndConditions(one.Series))
			}
		}
	}
	for _, f := range s.FollowUps {
		for _, one := range f.Series {
			if in := shoeAndConditions(one); one.Side != track.Between && !slices.Contains(on, in) && !slices.Contains(off, in) {
				off = append(off, in)
			}
		}
	}
	if off == nil {
		return ""
	}
	return say("progress other", shortened(strings.Join(off, "; "), maxShoes))
}

// shoeAndConditions returns the shoe and the conditions of a series.
func shoeAndConditions(s track.Series) string {
	return joined(shortened(s.Shoe, maxText), shortened(s.Support, maxText), shortened(s.Rise, maxText))
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
