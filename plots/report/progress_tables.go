package report

import (
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/plots"
)

// changeGroup is one measure: a line a side.
type changeGroup struct {
	Measure string
	Lines   []changeLine
}

type changeLine struct {
	Side, Reference, Last, Change, Detectable, Wording, SEM, N, DOF, From, Slope string
}

func (m shownMeasure) changes(side string) changeGroup {
	g := changeGroup{Measure: m.Title}
	if m.Unit != "" {
		g.Measure = say("progress measure unit", m.Title, m.Unit)
	}
	for _, s := range m.sides {
		last := s.Points[len(s.Points)-1]
		l := changeLine{
			Side: watched(s.Side, side), Reference: m.bare(referenceOf(s).Mean, 0), Last: m.bare(last.Mean, 0),
			Change: "–", Detectable: "–", Wording: string(last.Wording), SEM: "–", N: "–", DOF: "–", From: say("progress noise none"), Slope: "–",
		}
		if last.Change != nil {
			l.Change = plus(*last.Change) + m.bare(*last.Change, 0)
		}
		if r := s.Repeat; r != nil {
			l.Detectable, l.SEM, l.From = m.bare(r.MDC95, 0), m.bare(r.SEM, 1), noiseFrom(r)
			l.N, l.DOF = plots.Number(float64(r.Groups), 0), plots.Number(r.DOF, 0)
		}
		if l.Wording == "" {
			l.Wording = "–"
		}
		if f := last.Fatigue; f != nil {
			key := "progress slope"
			if f.Clear {
				key = "progress slope clear"
			}
			l.Slope = say(key, plus(f.PerReleve)+m.bare(f.PerReleve, 1), m.bare(f.CI95[0], 1), m.bare(f.CI95[1], 1))
		}
		g.Lines = append(g.Lines, l)
	}
	return g
}

// bare writes a value in shown units, without the unit, so many decimals finer.
func (m shownMeasure) bare(v float64, finer int) string {
	return plots.Number(v*m.Scale, m.Decimals+finer)
}

func plus(v float64) string {
	if v > 0 {
		return "+"
	}
	return ""
}

// holdsEnough is the share of changes by chance from which on a band is said to
// hold 95 %: our own choice.
const holdsEnough = 0.93

// leastKnown says what the band that is known least well holds, and nothing where
// all hold enough.
func leastKnown(shown []shownMeasure) string {
	holds := 1.0
	for _, m := range shown {
		for _, s := range m.sides {
			if s.Repeat != nil {
				holds = min(holds, s.Repeat.Holds)
			}
		}
	}
	if holds >= holdsEnough {
		return ""
	}
	return say("progress holds", plots.Number(100*holds, 0))
}

// noiseFrom says what tells how well a measure repeats.
func noiseFrom(r *track.Repeat) string {
	return say(map[bool]map[track.Source]string{
		false: {track.Baseline: "progress own baseline", track.Remountings: "progress own remountings"},
		true:  {track.Baseline: "progress all baseline", track.Remountings: "progress all remountings"},
	}[r.Pooled][r.From])
}

func referenceOf(s track.Series) track.Point {
	return s.Points[max(0, slices.IndexFunc(s.Points, func(p track.Point) bool { return p.Reference }))]
}

// visitLine is one visit in the table.
type visitLine struct {
	Visit, Releves, Pain, Weight, Differs string
}

// letters are the marks: more than mostVisits lines can need.
const letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"

// note is what a mark in the table stands for.
type note struct{ Mark, Text string }

// visits fills the table of visits: the reference and the last ones.
func (p *progress) visits(shown []shownMeasure) {
	if len(p.Visits) == 0 {
		return
	}
	reference := p.referenceVisit(shown[0])
	from := max(0, len(p.Visits)-mostVisits)
	if from > 0 && reference < from {
		from++ // room for the reference
	}
	marks := map[string]string{}
	mark := func(text string) string {
		if marks[text] == "" {
			marks[text] = string(letters[len(marks)%len(letters)])
			p.Notes = append(p.Notes, note{marks[text], text})
		}
		return marks[text]
	}
	var left int
	for i, v := range p.Visits {
		if i < from && i != reference {
			left++
			continue
		}
		l := visitLine{
			Visit:   p.visitName(v, i == reference, shown),
			Releves: releves(v, shown[0]), Pain: pain(v), Weight: weight(v, shown),
		}
		p.AnyPain = p.AnyPain || v.PainBefore != nil || v.PainAfter != nil
		p.AnyWeight = p.AnyWeight || l.Weight != "–"
		var differs []string
		for _, text := range differences(v, p.Visits[reference], shown) {
			differs = append(differs, mark(text))
		}
		if l.Differs = joined(differs...); l.Differs == "" {
			l.Differs = "–"
		}
		p.Lines = append(p.Lines, l)
	}
	p.about(p.Visits[reference], left)
}

// about says what is of all visits together; left is how many have no line.
func (p *progress) about(reference Visit, left int) {
	var under []string
	for _, c := range conditions {
		if text := c.of(reference); text != "" {
			under = append(under, shortened(text, mostText))
		}
	}
	if under != nil {
		p.About = append(p.About, say("progress under", joined(under...)))
	}
	if p.AnyPain {
		p.About = append(p.About, say("progress scale"))
	}
	if left > 0 {
		p.About = append(p.About, say("progress earlier", plots.Count(left, say("progress visit"), say("progress visits"))))
	}
}

func (p *progress) referenceVisit(m shownMeasure) int {
	name := referenceOf(m.sides[0]).Visit
	return max(0, slices.IndexFunc(p.Visits, func(v Visit) bool { return v.Name == name }))
}

func (p *progress) visitName(v Visit, reference bool, shown []shownMeasure) string {
	at, ok := pointOf(v, shown[0].sides[0])
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

// releves says how many relevés each foot did in how many mountings.
func releves(v Visit, m shownMeasure) string {
	said, mountings := "", 0
	for _, s := range m.sides {
		if s.Side == track.Between && len(m.sides) > 1 {
			continue
		}
		if p, ok := pointOf(v, s); ok {
			said = joined(said, say("progress in", sideName(s.Side), p.N))
			mountings = max(mountings, p.Mountings)
		}
	}
	if said == "" {
		return say("progress missing")
	}
	return say("progress mountings", said, plots.Count(mountings, say("mounting"), say("mountings")))
}

func pain(v Visit) string {
	one := func(p *int) any {
		if p == nil {
			return "–"
		}
		return *p
	}
	return say("progress pain", one(v.PainBefore), one(v.PainAfter))
}

// weight says which share of the body's weight each foot bore.
func weight(v Visit, shown []shownMeasure) string {
	said := ""
	for _, m := range shown {
		if m.Measure != measure.Load || v.MassKG <= 0 {
			continue
		}
		for _, s := range m.sides {
			if p, ok := pointOf(v, s); ok {
				said = joined(said, say("progress weight", sideName(s.Side), plots.Number(100*track.BodyWeight(p.Mean, v.MassKG), 0)))
			}
		}
	}
	if said == "" {
		return "–"
	}
	return said
}

// differences says what else differs between a visit and the reference.
func differences(v, reference Visit, shown []shownMeasure) (said []string) {
	add := func(text string) {
		if !slices.Contains(said, text) {
			said = append(said, text)
		}
	}
	for _, m := range shown {
		for _, s := range m.sides {
			if p, ok := pointOf(v, s); ok {
				for _, flag := range p.Flags {
					add(flag)
				}
			}
		}
	}
	for _, c := range conditions {
		switch text := c.of(v); {
		case text == c.of(reference):
		case text == "":
			add(say("progress not said", say(c.key, "")))
		default:
			add(say(c.key, shortened(text, mostText)))
		}
	}
	return said
}

// conditions are how a visit's relevés were made, each with the text that says it.
var conditions = []struct {
	key string
	of  func(Visit) string
}{
	{"support", func(v Visit) string { return v.Support }},
	{"rise", func(v Visit) string { return v.Rise }},
	{"position", func(v Visit) string { return v.Position }},
	{"floor", func(v Visit) string { return v.Floor }},
}
