package report

import (
	"cmp"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/plots/words"
)

// changeGroup is one measure in the table of changes, with a line for each side.
type changeGroup struct {
	Measure string
	Lines   []changeLine
}

type changeLine struct {
	Side, Reference, Last, Change, Detectable, Wording, SEM, N, DOF, From, Slope string
}

func (m sheetMeasure) changes(watched string) changeGroup {
	g := changeGroup{Measure: m.Title}
	if m.Unit != "" {
		g.Measure = say("progress measure unit", m.Title, m.Unit)
	}
	for _, s := range m.sides {
		last := s.Points[len(s.Points)-1]
		l := changeLine{
			Side: markedSide(s.Side, watched), Reference: m.number(referenceOf(s).Mean, 0), Last: m.number(last.Mean, 0),
			Change: "–", Detectable: "–", Wording: string(last.Wording), SEM: "–", N: "–", DOF: "–", From: say("progress noise none"), Slope: "–",
		}
		if last.Change != nil {
			l.Change = m.signed(*last.Change, 0)
		}
		if r := s.Repeat; r != nil {
			l.Detectable, l.SEM, l.From = m.number(r.MDC95, 0), m.number(r.SEM, 1), noiseFrom(r)
			l.N, l.DOF = words.Number(float64(r.Groups), 0), words.Number(r.DOF, 0)
		}
		if l.Wording == "" {
			l.Wording = "–"
		}
		if f := last.Fatigue; f != nil {
			key := "progress slope"
			if f.Clear {
				key = "progress slope clear"
			}
			l.Slope = say(key, m.signed(f.PerReleve, 1), m.number(f.CI95[0], 1), m.number(f.CI95[1], 1))
		}
		g.Lines = append(g.Lines, l)
	}
	return g
}

// number writes a value in display units, without the unit, with extra decimals
// beyond those of the measure.
func (m sheetMeasure) number(v float64, extra int) string {
	return words.Number(v*m.Scale, m.Decimals+extra)
}

// signed writes a value as number does, with its sign.
func (m sheetMeasure) signed(v float64, extra int) string {
	return words.Signed(v*m.Scale, m.Decimals+extra)
}

// noiseFrom returns in words what a measure's repeatability was estimated from.
func noiseFrom(r *track.Repeatability) string {
	return say(map[bool]map[track.SEMSource]string{
		false: {track.BaselineVisits: "progress own baseline", track.Remountings: "progress own remountings"},
		true:  {track.BaselineVisits: "progress all baseline", track.Remountings: "progress all remountings"},
	}[r.Pooled][r.From])
}

func referenceOf(s track.Series) track.Point {
	return s.Points[max(0, slices.IndexFunc(s.Points, func(p track.Point) bool { return p.Reference }))]
}

// visitLine is one visit in the table.
type visitLine struct {
	Visit, Releves, Pain, Weight, SingleLeg, Differs string
}

// footnoteMarks are the marks of footnotes. There are more of them than maxVisits
// lines can need.
const footnoteMarks = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"

// footnote is the text for a mark in the table.
type footnote struct{ Mark, Text string }

// addVisits fills the table of visits with the reference visit and the last ones.
func (p *progress) addVisits(measures []sheetMeasure) {
	if len(p.Visits) == 0 {
		return
	}
	reference := p.referenceVisit(measures[0])
	from := max(0, len(p.Visits)-maxVisits)
	if from > 0 && reference < from {
		from++ // room for the reference
	}
	marks := map[string]string{}
	mark := func(text string) string {
		if marks[text] == "" {
			marks[text] = string(footnoteMarks[len(marks)%len(footnoteMarks)])
			p.Footnotes = append(p.Footnotes, footnote{marks[text], text})
		}
		return marks[text]
	}
	var omitted int
	for i, v := range p.Visits {
		if i < from && i != reference {
			omitted++
			continue
		}
		l := visitLine{
			Visit:   p.visitName(v, i == reference, measures),
			Releves: relevesText(v, measures[0]), Pain: painText(v), Weight: weightText(v, measures), SingleLeg: cmp.Or(words.SingleLeg(v.SingleLeg), "–"),
		}
		p.AnyPain = p.AnyPain || v.PainBefore != nil || v.PainAfter != nil
		p.AnyWeight = p.AnyWeight || l.Weight != "–"
		p.AnySingleLeg = p.AnySingleLeg || l.SingleLeg != "–"
		var differs []string
		for _, text := range visitDifferences(v, p.Visits[reference], measures) {
			differs = append(differs, mark(text))
		}
		for _, text := range p.notesOf(v) {
			differs = append(differs, mark(text))
			p.AnyNote = true
		}
		if l.Differs = joined(differs...); l.Differs == "" {
			l.Differs = "–"
		}
		p.Lines = append(p.Lines, l)
	}
	p.addAbout(p.Visits[reference], omitted)
}

// addAbout adds the notes on all visits together. omitted is the number of visits
// without a line.
func (p *progress) addAbout(reference Visit, omitted int) {
	var under []string
	for _, c := range conditions {
		if text := c.of(reference); text != "" {
			under = append(under, shortened(text, maxText))
		}
	}
	if under != nil {
		p.About = append(p.About, say("progress under", joined(under...)))
	}
	if p.AnyPain {
		p.About = append(p.About, say("progress scale"))
	}
	if omitted > 0 {
		p.About = append(p.About, say("progress earlier", words.Count(omitted, say("progress visit"), say("progress visits"))))
	}
}

func (p *progress) referenceVisit(m sheetMeasure) int {
	name := referenceOf(m.sides[0]).Visit
	return max(0, slices.IndexFunc(p.Visits, func(v Visit) bool { return v.Name == name }))
}

func (p *progress) visitName(v Visit, reference bool, measures []sheetMeasure) string {
	at, ok := pointOf(v, measures[0].sides[0])
	switch {
	case reference:
		return say("progress reference", date(v.Day))
	case ok && at.Baseline:
		return say("progress baseline", date(v.Day))
	}
	return date(v.Day)
}

// pointOf finds a visit in a series.
func pointOf(v Visit, s track.Series) (p track.Point, ok bool) {
	i := slices.IndexFunc(s.Points, func(p track.Point) bool { return p.Visit == v.Name })
	if i < 0 {
		return p, false
	}
	return s.Points[i], true
}

// relevesText returns the number of relevés of each foot, and of mountings.
func relevesText(v Visit, m sheetMeasure) string {
	counts, mountings := "", 0
	for _, s := range m.sides {
		if s.Side == track.Between && len(m.sides) > 1 {
			continue
		}
		if p, ok := pointOf(v, s); ok {
			counts = joined(counts, say("progress in", sideName(s.Side), p.N))
			mountings = max(mountings, p.Mountings)
		}
	}
	if counts == "" {
		return say("progress missing")
	}
	return say("progress mountings", counts, words.Count(mountings, say("mounting"), say("mountings")))
}

func painText(v Visit) string {
	one := func(p *int) any {
		if p == nil {
			return "–"
		}
		return *p
	}
	return say("progress pain", one(v.PainBefore), one(v.PainAfter))
}

// weightText returns the load of each foot as a share of the body weight.
func weightText(v Visit, measures []sheetMeasure) string {
	shares := ""
	for _, m := range measures {
		if m.Measure != measure.Load || v.MassKG <= 0 {
			continue
		}
		for _, s := range m.sides {
			if p, ok := pointOf(v, s); ok {
				shares = joined(shares, say("progress weight", sideName(s.Side), words.Number(100*track.BodyWeight(p.Mean, v.MassKG), 0)))
			}
		}
	}
	if shares == "" {
		return "–"
	}
	return shares
}

// visitDifferences returns what besides the measures differs between a visit and the
// reference visit.
func visitDifferences(v, reference Visit, measures []sheetMeasure) (all []string) {
	for _, m := range measures {
		for _, side := range m.sides {
			at, _ := pointOf(v, side)
			for _, flag := range at.Flags {
				if !slices.Contains(all, string(flag)) && !ofVisit(flag) {
					all = append(all, string(flag))
				}
			}
		}
	}
	for _, c := range conditions {
		switch text := c.of(v); {
		case text == c.of(reference):
		case text == "":
			all = append(all, say("progress not said", say(c.key, "")))
		default:
			all = append(all, say(c.key, shortened(text, maxText)))
		}
	}
	return all
}

// notesOf returns what was written of a visit: its note, and the fitter's choice. The notes
// share the room that there is.
func (p *progress) notesOf(v Visit) (all []string) {
	if v.Note != "" {
		noted := 0
		for _, other := range p.Visits[max(0, len(p.Visits)-maxVisits-1):] {
			if other.Note != "" {
				noted++
			}
		}
		all = append(all, say("quoted", shortened(v.Note, maxNotes/max(1, noted))))
	}
	if v.Choice != "" {
		all = append(all, say("progress choice", shortened(v.Choice, maxText)))
	}
	return all
}

// ofVisit reports whether a flag is of a condition of the visit, which the sheet has from
// the visit itself.
func ofVisit(flag track.Flag) bool {
	for _, c := range conditions {
		if strings.HasPrefix(string(flag), say(c.key, "")) {
			return true
		}
	}
	return false
}

// conditions are the conditions of a visit, each with the key of its text.
var conditions = []struct {
	key string
	of  func(Visit) string
}{
	{"support", func(v Visit) string { return v.Support }},
	{"rise", func(v Visit) string { return v.Rise }},
	{"position", func(v Visit) string { return v.Position }},
	{"floor", func(v Visit) string { return v.Floor }},
}
