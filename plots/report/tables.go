package report

import (
	"path/filepath"
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// tables are the tables of the lab sheet, every cell in words.
type tables struct {
	Answer      answerTable
	Columns     []shoeColumn
	Declared    []measureBlock
	Exploratory []measureBlock
	Releves     []releveGroup
	AnyP        bool // whether a difference has a p-value
	OfFeet      bool // whether there are differences between the feet
}

// answerTable contains the declared measures of every shoe and foot. Its lines are the
// measures; with many shoes it is transposed, and its lines are shoes and feet.
type answerTable struct {
	Heads []string
	Lines []answerLine
	Many  bool // whether it is transposed
}

type answerLine struct {
	Of    string
	Axis  string // both ends of the axis of its bars; empty where the line is a shoe
	Cells []answerCell
}

// answerCell is a value with its interval, as text and as a bar.
type answerCell struct {
	Of    string // its column, for narrow screens
	Span  int    // number of columns it is for
	Value string // "" where a word replaces the value because of a wide interval
	Rest  string
	Fine  int // decimals of Value
	Bar   *intervalBar
}

// shoeColumn is one shoe on one foot under one set of conditions.
type shoeColumn struct {
	Shoe, Foot, Conditions string
	N, Mountings           int
	Verdict, PInside       string
}

// releveGroup contains the relevés of one recording.
type releveGroup struct {
	File, Shoes string
	Lines       []releveLine
}

type releveLine struct {
	N                              int
	Foot, Start, Hold, Verdict     string
	Over, OverPM, Medial, MedialPM string
	Bar                            *intervalBar // of over
	Contact, Load, Peak, Speed     string
	Warnings, Notes                string
}

// declaredMeasures returns the declared measures in the order of the catalogue.
func declaredMeasures() (all []measure.Measure) {
	for _, m := range measure.All() {
		if m.Describe().Kind == measure.Declared {
			all = append(all, m)
		}
	}
	return all
}

func newTables(d Data) tables {
	c := d.Comparison
	t := tables{Answer: newAnswerTable(c), Releves: releveGroups(d.Results), OfFeet: len(c.Feet) > 0}
	under := conditionsOf(c)
	for _, f := range c.Shoes {
		t.Columns = append(t.Columns, shoeColumn{
			Shoe: f.Shoe, Foot: footName(f.Foot), Conditions: joined(f.Support, f.Rise, compare.ApartOtherwise(f.Conditions, under)), N: f.N, Mountings: f.Mountings,
			Verdict: words.Verdict(f.Verdict, f.Misses, f.Measures[measure.Medial].Mean), PInside: probability(f.PInside),
		})
	}
	names := shoeNames(c)
	for _, m := range measure.All() {
		switch b := newMeasureBlock(c, m, names); {
		case len(b.Groups) == 0:
		case b.Declared:
			t.Declared = append(t.Declared, b)
		default:
			t.Exploratory = append(t.Exploratory, b)
		}
	}
	t.AnyP = slices.ContainsFunc(c.Differences, func(d compare.Difference) bool { return d.P != nil })
	return t
}

func conditionsOf(c *compare.Comparison) (all []measure.Conditions) {
	for _, f := range c.Shoes {
		all = append(all, f.Conditions)
	}
	return all
}

// maxColumns is the number of columns of numbers that fit side by side on a page.
const maxColumns = 6

func newAnswerTable(c *compare.Comparison) answerTable {
	var t answerTable
	names, under := shoeNames(c), conditionsOf(c)
	var heads []string
	for _, f := range c.Shoes {
		heads = append(heads, joined(say("lab column", names[f.Shoe], footName(f.Foot)), compare.Apart(f.Conditions, under)))
	}
	for _, m := range declaredMeasures() {
		line := answerLine{Of: heading(words.DisplayOf(m))}
		any := false
		a := axisOfMeans(c, m)
		line.Axis = a.text(words.DisplayOf(m))
		for i, f := range c.Shoes {
			s, ok := f.Measures[m]
			// A measure that is the same number for both feet has one cell for the two.
			if m == measure.LoadShare && i > 0 && c.Shoes[i-1].Shoe == f.Shoe && c.Shoes[i-1].Conditions == f.Conditions {
				last := len(line.Cells) - 1
				line.Cells[last].Span, line.Cells[last].Of = 2, joined(names[f.Shoe], compare.Apart(f.Conditions, under))
				continue
			}
			cell := answerCell{Of: heads[i], Span: 1, Rest: say("lab none")}
			if ok {
				cell, any = newAnswerCell(words.DisplayOf(m), s, a, kernAlong(f.Platform, m)), true
				cell.Of, cell.Span = heads[i], 1
			}
			line.Cells = append(line.Cells, cell)
		}
		if any {
			t.Lines = append(t.Lines, line)
		}
	}
	t.Heads = heads
	if len(heads) > maxColumns {
		t = t.turned()
	}
	return t
}

// turned returns the transposed table, with a line for each shoe and foot. A cell that is
// for both feet is repeated in both lines.
func (t answerTable) turned() answerTable {
	out := answerTable{Many: true}
	for _, l := range t.Lines {
		out.Heads = append(out.Heads, joined(l.Of, l.Axis))
	}
	for _, head := range t.Heads {
		out.Lines = append(out.Lines, answerLine{Of: head})
	}
	for _, l := range t.Lines {
		at := 0
		for _, c := range l.Cells {
			for range c.Span {
				one := c
				one.Of, one.Span = l.Of, 1
				out.Lines[at].Cells = append(out.Lines[at].Cells, one)
				at++
			}
		}
	}
	return out
}

func newAnswerCell(s words.Display, mean compare.Summary, a axis, kern *[2]float64) answerCell {
	cell := answerCell{Fine: s.Decimals, Bar: a.bar(s, mean.Mean, mean.CI95, kern)}
	text := strings.TrimSuffix(s.PlusMinus(mean.Mean, mean.CI95), " "+s.Unit)
	value := words.Number(mean.Mean*s.Scale, s.Decimals)
	if rest, numeric := strings.CutPrefix(text, value); numeric {
		rest, _, _ = strings.Cut(strings.TrimPrefix(rest, " "+s.Unit), ",") // a contact share has a word too
		cell.Value, cell.Rest = value, strings.TrimSpace(rest)
	} else {
		cell.Rest = text
	}
	return cell
}

// heading returns the title of a measure with its unit.
func heading(s words.Display) string { return joined(s.Title, s.Unit) }

// maxShoeName is the number of characters of a shoe's code that fit into the tables.
const maxShoeName = 10

// shoeNames returns a short name for each shoe of a comparison: its code, or a part of it
// with a number where it is long.
func shoeNames(c *compare.Comparison) map[string]string {
	names, taken := map[string]string{}, map[string]int{}
	for _, f := range c.Shoes {
		if _, known := names[f.Shoe]; known {
			continue
		}
		short := shortened(f.Shoe, maxShoeName)
		taken[short]++
		if taken[short] > 1 {
			short = say("lab namesake", short, taken[short])
		}
		names[f.Shoe] = short
	}
	return names
}

func releveGroups(results []*measure.Result) (all []releveGroup) {
	a := axisOfReleves(results)
	for _, r := range results {
		g := releveGroup{File: filepath.Base(r.Recording.File), Shoes: shoesOf(r.Recording.Shoes)}
		for i, rel := range r.Releves {
			l := newReleveLine(rel)
			if rel.Hold != nil {
				var kern *[2]float64
				if p := r.Platforms.Of(rel.Foot); p != nil {
					kern = kernAlong(*p, measure.Over)
				}
				l.Bar = a.bar(words.DisplayOf(measure.Over), rel.OverMM, overInterval(rel.Hold), kern)
			}
			if last := i+1 == len(r.Releves) || r.Releves[i+1].N != rel.N; last && len(rel.Notes) > 0 {
				l.Notes = say("lab note releve", strings.Join(rel.Notes, "; "))
			}
			g.Lines = append(g.Lines, l)
		}
		if len(g.Lines) > 0 {
			all = append(all, g)
		}
	}
	return all
}

// overInterval returns the 95 % interval of over in one hold.
func overInterval(h *measure.Hold) *[2]float64 {
	half := words.HalfWidth(h.UOverMM, h.DOFOver)
	return &[2]float64{h.OverMM - half, h.OverMM + half}
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
	l.Over, l.OverPM = words.Number(m.OverMM, 1), say("lab half", words.Number(words.HalfWidth(m.UOverMM, m.DOFOver), 1))
	l.Medial, l.MedialPM = words.Number(m.MedialMM, 1), say("lab half", words.Number(words.HalfWidth(m.UMedialMM, m.DOFMedial), 1))
	l.Contact = say("lab contact", words.Number(100*m.ContactShare, 0), words.DisplayOf(measure.ContactShare).Interval(m.ContactCI95))
	l.Load = words.Number(m.LoadN, 0)
	l.Peak = words.Number(m.PeakKPa, 0)
	l.Hold = words.Number(m.HoldS, 1)
	if m.Sway != nil {
		l.Speed = words.Number(m.Sway.SpeedMMS, 1)
	}
	return l
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

func pValue(p float64) string {
	if p < 0.001 {
		return "< 0.001"
	}
	return words.Number(p, 3)
}

// footText returns the name of a foot for a measure, "" where the measure is one number for
// both feet.
func footText(m measure.Measure, f device.Foot) string {
	if m == measure.LoadShare {
		return ""
	}
	return footName(f)
}
