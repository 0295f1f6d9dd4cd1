package report

import (
	"path/filepath"
	"strconv"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// tables are the tables of the lab sheet, every cell in words.
type tables struct {
	Columns     []shoeColumn
	Shoes       []shoeRow
	Differences []differenceGroup
	Feet        []feetGroup
	Releves     []releveGroup
	AnyP        bool
}

type shoeColumn struct {
	Shoe, Foot, Conditions string
	N, Mountings           int
	Verdict, PInside       string
}

type shoeRow struct {
	Measure string
	Cells   []string
}

// differenceGroup is the differences between two shoes on one foot.
type differenceGroup struct {
	From, To, Foot string
	Lines          []differenceLine
}

type differenceLine struct {
	Measure, From, To, Difference, CI, P, PHolm, Wording string
}

// feetGroup is the differences between the feet in one shoe.
type feetGroup struct {
	Shoe  string
	Lines []feetLine
}

type feetLine struct {
	Measure, Left, Right, Difference, CI, Wording string
	N                                             int
}

// releveGroup is the relevés of one recording.
type releveGroup struct {
	File, Shoes string
	Lines       []releveLine
}

type releveLine struct {
	N                                                             int
	Foot, Start, Hold, Verdict, Over, Medial, Contact, Load, Peak string
	Speed, Warnings, Notes                                        string
}

func newTables(d Data) tables {
	var t tables
	c := d.Comparison
	var under []measure.Conditions
	for _, f := range c.Shoes {
		under = append(under, f.Conditions)
	}
	for _, f := range c.Shoes {
		t.Columns = append(t.Columns, shoeColumn{
			Shoe: f.Shoe, Foot: footName(f.Foot), Conditions: joined(f.Support, f.Rise, compare.ApartOtherwise(f.Conditions, under)), N: f.N, Mountings: f.Mountings,
			Verdict: words.Verdict(f.Verdict, f.Misses, f.Measures[measure.Medial].Mean), PInside: probability(f.PInside),
		})
	}
	for _, m := range measure.All() {
		if row, any := measureRow(c.Shoes, m); any {
			t.Shoes = append(t.Shoes, row)
		}
	}
	for _, d := range c.Differences {
		t.addDifference(d, compare.Apart(d.Conditions, under))
		t.AnyP = t.AnyP || d.P != nil || d.PHolm != nil
	}
	for _, d := range c.Feet {
		t.addFeet(d, compare.Apart(d.Conditions, under))
	}
	for _, r := range d.Results {
		g := releveGroup{File: filepath.Base(r.Recording.File), Shoes: shoesOf(r.Recording.Shoes)}
		for i, rel := range r.Releves {
			l := newReleveLine(rel)
			if last := i+1 == len(r.Releves) || r.Releves[i+1].N != rel.N; last && len(rel.Notes) > 0 {
				l.Notes = say("lab note releve", strings.Join(rel.Notes, "; "))
			}
			g.Lines = append(g.Lines, l)
		}
		if len(g.Lines) > 0 {
			t.Releves = append(t.Releves, g)
		}
	}
	return t
}

// addDifference adds a difference. apart names the conditions in which it differs from
// others.
func (t *tables) addDifference(d compare.Difference, apart string) {
	last := len(t.Differences) - 1
	if foot := joined(footName(d.Foot), apart); last < 0 || t.Differences[last].From != d.From || t.Differences[last].To != d.To || t.Differences[last].Foot != foot {
		t.Differences = append(t.Differences, differenceGroup{From: d.From, To: d.To, Foot: foot})
		last++
	}
	s := words.DisplayOf(d.Measure)
	t.Differences[last].Lines = append(t.Differences[last].Lines, differenceLine{
		Measure: s.Title, From: s.Value(d.MeanFrom), To: s.Value(d.MeanTo),
		Difference: s.Difference(d.Difference, nil), CI: intervalText(s, d.CI95),
		P: pValue(d.P), PHolm: pValue(d.PHolm), Wording: string(d.Wording),
	})
}

// addFeet adds a difference between the feet. apart is as in addDifference.
func (t *tables) addFeet(d compare.FeetDiff, apart string) {
	last := len(t.Feet) - 1
	if shoe := joined(d.Shoe, apart); last < 0 || t.Feet[last].Shoe != shoe {
		t.Feet = append(t.Feet, feetGroup{Shoe: shoe})
		last++
	}
	s := words.DisplayOf(d.Measure)
	t.Feet[last].Lines = append(t.Feet[last].Lines, feetLine{
		Measure: s.Title, N: d.N, Left: s.Value(d.Left), Right: s.Value(d.Right),
		Difference: s.Difference(d.Difference, nil), CI: intervalText(s, d.CI95), Wording: string(d.Wording),
	})
}

// shoesOf names the shoes of a recording, once where both feet wear the same.
func shoesOf(shoes measure.PerFoot[string]) string {
	l, r := shoes.Left, shoes.Right
	switch {
	case l != nil && r != nil && *l != *r:
		return say("lab worn both", *l, *r)
	case l != nil:
		return say("lab worn", *l)
	case r != nil:
		return say("lab worn", *r)
	}
	return ""
}

func measureRow(feet []compare.ShoeFoot, m measure.Measure) (row shoeRow, any bool) {
	s := words.DisplayOf(m)
	row.Measure = s.Title
	for _, f := range feet {
		cell := "–"
		if summary, ok := f.Measures[m]; ok {
			cell, any = s.PlusMinus(summary.Mean, summary.CI95), true
		}
		row.Cells = append(row.Cells, cell)
	}
	return row, any
}

func newReleveLine(rel measure.Releve) releveLine {
	l := releveLine{
		N: rel.N, Foot: footName(rel.Foot), Start: words.Number(rel.StartS, 1),
		Verdict: say("lab aborted"), Warnings: strings.Join(words.Warnings(rel.Warnings), "; "),
	}
	m := rel.Hold
	if m == nil {
		return l
	}
	l.Verdict = words.Verdict(m.Verdict, m.Misses, m.MedialMM)
	if rel.Discarded {
		l.Verdict = say("lab discarded", l.Verdict)
	}
	l.Over = words.Number(m.OverMM, 1) + " ± " + words.Number(words.HalfWidth(m.UOverMM, m.DOFOver), 1)
	l.Medial = words.Number(m.MedialMM, 1) + " ± " + words.Number(words.HalfWidth(m.UMedialMM, m.DOFMedial), 1)
	l.Contact = words.Contact(m.ContactShare, &m.ContactCI95)
	l.Load = words.Number(m.LoadN, 0)
	l.Peak = words.Number(m.PeakKPa, 0)
	l.Hold = words.Number(m.HoldS, 1)
	if m.Sway != nil {
		l.Speed = words.Number(m.Sway.SpeedMMS, 1)
	}
	return l
}

func intervalText(s words.Display, ci *[2]float64) string {
	if ci == nil {
		return "–"
	}
	return s.Interval(*ci)
}

// probability writes a probability as a percentage, and never as 0 % or 100 %.
func probability(p float64) string {
	switch {
	case p > 0.995:
		return say("lab above")
	case p < 0.005:
		return say("lab below")
	}
	return say("percent", words.Number(100*p, 0))
}

func pValue(p *float64) string {
	switch {
	case p == nil:
		return "–"
	case *p < 0.001:
		return "< 0.001"
	}
	return words.Number(*p, 3)
}

// stripLine is one strip, as its profile describes it.
type stripLine struct {
	device.Strip
	SeatAssumed bool
	SeatDOF     string
	Calibrated  string
}

// strips returns every strip profile of the recordings once.
func strips(results []*measure.Result) []stripLine {
	var out []stripLine
	seen := map[string]bool{}
	for _, r := range results {
		for _, side := range r.Meta.Sides {
			if side == nil || side.Strip == nil {
				continue
			}
			if profile := device.TOML(side.Strip); !seen[profile] {
				seen[profile] = true
				out = append(out, stripLine{*side.Strip, side.Strip.Mount.SeatMountings == 0,
					strconv.FormatFloat(side.Strip.Mount.SeatDOF(), 'f', -1, 64), calibrationText(&side.Strip.Calibration)})
			}
		}
	}
	return out
}

// seats says of every recording and foot where the strip lay, and in a last line what
// finding that was worth.
func seats(results []*measure.Result) []string {
	var out []string
	for _, r := range results {
		for _, f := range device.Feet {
			if s, side := r.Seats.Of(f), r.Meta.Sides[f]; s != nil && side != nil {
				out = append(out, say("lab seat", r.Recording.File, footName(f), side.Strip.Name, words.Seat(s, side.Strip.Mount)))
			}
		}
	}
	if worth := words.SeatWorth(results); worth != "" {
		out = append(out, worth)
	}
	return out
}

// shoeLine is one shoe in words.
type shoeLine struct{ Code, Facts string }

// shoes returns every shoe of the recordings once.
func shoes(d Data) []shoeLine {
	var out []shoeLine
	seen := map[string]bool{}
	for _, r := range d.Results {
		for _, side := range r.Meta.Sides {
			if side == nil || side.Shoe == nil {
				continue
			}
			if profile := device.TOML(side.Worn()); !seen[profile] {
				seen[profile] = true
				out = append(out, shoeLine{side.Shoe.Code, fullDescription(*side.Worn(), d.Inches)})
			}
		}
	}
	return out
}

// recordingLine is one recording with the hash of its file.
type recordingLine struct {
	File, Started, Software, Conditions, ID, SHA256 string
	Feet                                            []recordedFoot
}

type recordedFoot struct {
	Foot, Shoe, Strip, Mounting, Mark, Padding, Fixing, Clock, Format, Lost, Rate, Span, Covered string
	Frames                                                                                       int
}

func recordings(d Data) []recordingLine {
	var out []recordingLine
	for _, r := range d.Results {
		line := recordingLine{File: r.Recording.File, Software: r.Meta.Software}
		if p := r.Provenance; p != nil && len(p.Inputs) == 1 {
			line.ID, line.SHA256 = p.Inputs[0].ID, p.Inputs[0].SHA256
		}
		if !r.Meta.Started.IsZero() {
			line.Started = r.Meta.Started.UTC().Format("2006-01-02 15:04 UTC")
		}
		mass := ""
		if r.Meta.MassKG > 0 {
			mass = say("kg", words.Number(r.Meta.MassKG, 1))
		}
		line.Conditions = joined(labelled("support", r.Meta.Support), labelled("rise", r.Meta.Rise),
			labelled("position", r.Meta.Position), labelled("floor", r.Meta.Floor), labelled("feedback", r.Meta.Feedback),
			labelled("mass", mass))
		for _, foot := range device.Feet {
			if side, log := r.Meta.Sides[foot], r.Recording.Feet.Of(foot); side != nil && log != nil {
				line.Feet = append(line.Feet, newRecordedFoot(foot, r, log))
			}
		}
		out = append(out, line)
	}
	return out
}

func newRecordedFoot(foot device.Foot, r *measure.Result, log *measure.FootLog) recordedFoot {
	side := r.Meta.Sides[foot]
	f := recordedFoot{
		Foot: footName(foot), Mounting: side.Mounting, Padding: side.Padding, Fixing: side.Fixing, Clock: side.Clock, Format: side.Format, Frames: log.Frames,
		Lost: say("lab lost unknown"), Rate: words.Number(log.RateHz, 0), Span: words.Number(log.SpanS, 1),
	}
	if log.Lost != nil {
		f.Lost = strconv.FormatInt(*log.Lost, 10)
	}
	if side.Mark != 0 {
		f.Mark = strconv.Itoa(side.Mark)
	}
	if side.Shoe != nil {
		f.Shoe = side.Shoe.Code
	}
	if side.Strip != nil {
		f.Strip = side.Strip.Name
	}
	if p := r.Platforms.Of(foot); p != nil {
		f.Covered = say("percent", words.Number(100*p.Covered, 0))
	}
	return f
}

// labelled returns the text of a key with a value. It is empty where the value is.
func labelled(key, value string) string {
	if value == "" {
		return ""
	}
	return say(key, value)
}
