package report

import (
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/plots/words"
)

// Limits with which the answer fits on one page and the tables on another.
const (
	maxVisits    = 30  // lines of the table of visits
	maxText      = 16  // characters of a text that users wrote
	maxShoes     = 110 // characters of shoes and conditions together
	maxNote      = 110 // characters of the note of the last visit
	maxNotes     = 480 // characters of the notes of all visits together
	maxFootnotes = 480 // characters of all footnotes together
)

// changeGroup is one measure in the table of changes, with a line for each side.
type changeGroup struct {
	Measure string
	Lines   []changeLine
}

type changeLine struct {
	Side, Reference, Last, Change, Detectable, Wording, SEM, N, DOF, From, Slope string
}

// changes returns the lines of a measure: those of the series of a side's last visit and,
// for positions and the load share, that of the shoe before.
func (s *progressSeries) changes(m sheetMeasure) changeGroup {
	g := changeGroup{Measure: m.Title}
	if m.Unit != "" {
		g.Measure = say("progress measure unit", m.Title, m.Unit)
	}
	both := m.Measure == measure.Over || m.Measure == measure.Medial || m.Measure == measure.LoadShare
	for _, side := range m.sides {
		now, _ := side.last()
		shown := slices.DeleteFunc(slices.Clone(side.shown), func(one shownSeries) bool {
			return one.points[0].Visit != now.points[0].Visit && (len(one.Points) < 2 || !both)
		})
		for _, one := range shown[max(0, len(shown)-2):] {
			l := m.change(one)
			if len(side.shown) > 1 {
				l.Side = joined(l.Side, shortened(one.Shoe, maxText/2))
			}
			g.Lines = append(g.Lines, l)
		}
	}
	return g
}

func (m sheetMeasure) change(s shownSeries) changeLine {
	last := last(s.points)
	l := changeLine{
		Side: sideName(s.Side), Reference: m.number(s.reference().Mean, 0), Last: m.number(last.Mean, 0),
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
	return l
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

// noiseFrom returns in words from what a measure's repeatability was estimated.
func noiseFrom(r *track.Repeatability) string {
	return say(map[bool]map[track.SEMSource]string{
		false: {track.BaselineVisits: "progress own baseline", track.Remountings: "progress own remountings"},
		true:  {track.BaselineVisits: "progress all baseline", track.Remountings: "progress all remountings"},
	}[r.Pooled][r.From])
}

// visitTable is the table of visits. A column that is empty in every visit is left out.
type visitTable struct {
	Columns   []string
	Lines     []visitLine
	About     []string // notes on all visits together
	Footnotes []footnote
}

// visitLine is one visit in the table.
type visitLine struct {
	Visit string
	Cells []string // one a column
}

// footnoteMarks are the marks of footnotes.
const footnoteMarks = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"

// footnote is the text for a mark in the table.
type footnote struct{ Mark, Text string }

// visitColumn is one column of the table of visits: its heading, and its text for a
// visit, "" for none.
type visitColumn struct {
	heading string
	of      func(Visit) string
}

// visitTable returns the table of visits: the reference visit and the last ones.
func (s *progressSeries) visitTable() (t visitTable) {
	if len(s.Visits) == 0 {
		return t
	}
	reference := s.referenceVisit()
	from := max(0, len(s.Visits)-maxVisits)
	if from > 0 && reference < from {
		from++ // room for the reference
	}
	shown := func(i int) bool { return i >= from || i == reference }
	notes := func(v Visit) []string { return append(s.differences(v, s.Visits[reference]), s.notesOf(v)...) }
	room, kept := maxFootnotes, map[string]bool{} // the latest visits have priority
	for i := len(s.Visits) - 1; i >= 0; i-- {
		for _, text := range notes(s.Visits[i]) {
			if n := len([]rune(text)); shown(i) && !kept[text] && n <= room && len(kept) < len(footnoteMarks) {
				kept[text], room = true, room-n
			}
		}
	}
	marks, omittedNotes := map[string]string{}, false
	differs := func(v Visit) string {
		var texts []string
		for _, text := range notes(v) {
			if !kept[text] {
				omittedNotes = true
				continue
			}
			if marks[text] == "" {
				marks[text] = string(footnoteMarks[len(marks)])
				t.Footnotes = append(t.Footnotes, footnote{marks[text], text})
			}
			texts = append(texts, marks[text])
		}
		return joined(texts...)
	}
	columns := []visitColumn{{say("progress col releves"), s.releves}}
	for _, m := range []measure.Measure{measure.Over, measure.Medial} {
		for _, f := range s.feet {
			columns = append(columns, visitColumn{say("progress col place", axisName(m), sideName(f.side)), func(v Visit) string { return s.valueIn(m, f.side, v) }})
		}
	}
	columns = append(columns,
		visitColumn{say("progress col worn"), s.hours},
		visitColumn{say("progress col share"), func(v Visit) string { return s.valueIn(measure.LoadShare, track.Both, v) }},
		visitColumn{say("progress col weight"), s.bodyWeight}, visitColumn{say("progress col pain"), painText},
		visitColumn{say("progress col single"), func(v Visit) string { return words.SingleLeg(v.SingleLeg) }}, visitColumn{say("progress col differs"), differs})
	var omitted int
	for i, v := range s.Visits {
		if !shown(i) {
			omitted++
			continue
		}
		l := visitLine{Visit: s.visitName(v, i == reference)}
		for _, c := range columns {
			l.Cells = append(l.Cells, c.of(v))
		}
		t.Lines = append(t.Lines, l)
	}
	for i, c := range columns {
		if slices.ContainsFunc(t.Lines, func(l visitLine) bool { return l.Cells[i] != "" }) {
			t.Columns = append(t.Columns, c.heading)
			continue
		}
		for k := range t.Lines {
			t.Lines[k].Cells[i] = unused
		}
	}
	for k := range t.Lines {
		t.Lines[k].Cells = slices.DeleteFunc(t.Lines[k].Cells, func(c string) bool { return c == unused })
		for i, c := range t.Lines[k].Cells {
			if c == "" {
				t.Lines[k].Cells[i] = "–"
			}
		}
	}
	t.About = s.about(s.Visits[reference], omitted)
	if omittedNotes {
		t.About = append(t.About, say("progress notes left out"))
	}
	return t
}

// axisName returns the name of a coordinate without the unit, in small letters and
// without the term in brackets.
func axisName(m measure.Measure) string {
	name, _, _ := strings.Cut(words.DisplayOf(m).Title, " (")
	return strings.ToLower(name)
}

// unused is the content of a cell in a column that is omitted.
const unused = "\x00"

// about returns the notes on all visits together. omitted is the number of visits without a
// line.
func (s *progressSeries) about(reference Visit, omitted int) (notes []string) {
	var under []string
	for _, c := range conditions {
		if text := c.of(reference); text != "" {
			under = append(under, shortened(text, maxText))
		}
	}
	if under != nil {
		notes = append(notes, say("progress under", joined(under...)))
	}
	if slices.ContainsFunc(s.Visits, Visit.asked) {
		notes = append(notes, say("progress scale"))
	}
	if omitted > 0 {
		notes = append(notes, say("progress earlier", words.Count(omitted, say("progress visit"), say("progress visits"))))
	}
	return notes
}

func (s *progressSeries) referenceVisit() int {
	name := s.feet[0].now.reference().Visit
	return max(0, slices.IndexFunc(s.Visits, func(v Visit) bool { return v.Name == name }))
}

func (s *progressSeries) visitName(v Visit, reference bool) string {
	day := v.Day.Format(say("date short"))
	_, at, ok := s.feet[0].over.in(v.Name)
	switch {
	case reference:
		return say("progress reference", day)
	case ok && at.Baseline:
		return say("progress baseline", day)
	}
	return day
}

// releves returns the number of relevés of all feet, and the number of mountings.
func (s *progressSeries) releves(v Visit) string {
	counts, mountings := 0, 0
	for _, f := range s.feet {
		if _, p, ok := f.over.in(v.Name); ok {
			counts += p.N
			mountings = max(mountings, p.Mountings)
		}
	}
	if counts == 0 {
		return say("progress missing")
	}
	times := say("progress once")
	switch {
	case mountings == 2:
		times = say("progress twice")
	case mountings > 2:
		times = say("progress times", mountings)
	}
	return say("progress releves", counts, times)
}

// hours returns the hours for which the shoes of a visit had been worn, "" where unknown.
func (s *progressSeries) hours(v Visit) string {
	var hours []string
	for _, f := range s.feet {
		if _, p, ok := f.over.in(v.Name); ok {
			hours = append(hours, words.Trimmed(p.Hours, 1))
		}
	}
	if !s.anyHours() {
		return ""
	}
	return joined(slices.Compact(hours)...)
}

// anyHours reports whether the hours are known for any visit.
func (s *progressSeries) anyHours() bool {
	return slices.ContainsFunc(s.Visits, func(v Visit) bool {
		return slices.ContainsFunc(s.feet, func(f footPlace) bool { _, p, ok := f.over.in(v.Name); return ok && p.Hours > 0 })
	})
}

// valueIn returns a measure in a visit with its interval.
func (s *progressSeries) valueIn(m measure.Measure, side track.Side, v Visit) string {
	of, _ := s.side(m, side)
	_, p, ok := of.in(v.Name)
	if !ok {
		return ""
	}
	shown := sheetMeasure{Display: words.DisplayOf(m)}
	if p.OfMean == nil {
		return shown.number(p.Mean, 0)
	}
	return say("progress value", shown.number(p.Mean, 0), shown.number(half(p.OfMean.CI95), 0))
}

func painText(v Visit) string {
	if !v.asked() {
		return ""
	}
	one := func(p *int) any {
		if p == nil {
			return "–"
		}
		return *p
	}
	key := "progress pain"
	if v.Notice != "" {
		key = "progress pain stop"
	}
	return say(key, one(v.PainBefore), one(v.PainAfter))
}

// differences returns the differences between a visit and the reference visit other than
// measures.
func (s *progressSeries) differences(v, reference Visit) (all []string) {
	for _, f := range s.feet {
		of, at, ok := f.over.in(v.Name)
		if ok && of.reference().Visit != reference.Name {
			if in := say("progress in", shoeAndConditions(of.Series)); !slices.Contains(all, in) {
				all = append(all, in)
			}
		}
		for _, flag := range at.Flags {
			if !slices.Contains(all, string(flag)) && !ofVisit(flag) && !strings.HasPrefix(string(flag), say("progress worn")) {
				all = append(all, string(flag))
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

// notesOf returns the texts about a visit: its note, and the fitter's choice. All notes
// together are limited in length.
func (s *progressSeries) notesOf(v Visit) (all []string) {
	if v.Note != "" {
		noted := 0
		for _, other := range s.Visits[max(0, len(s.Visits)-maxVisits-1):] {
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

// ofVisit reports whether a flag is about a condition of the visit, which the sheet takes
// from the visit itself.
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
