package report

import (
	"html/template"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/plots"
	"aplomb/plots/words"
)

// answers returns the questions of the reader with their answers, below the headline.
func (s *progressSeries) answers() (all []answer) {
	add := func(question string, sentences ...string) {
		if sentences = nonEmpty(sentences); len(sentences) > 0 {
			all = append(all, answer{question, sentences})
		}
	}
	var sure, changed []string
	for _, f := range s.feet {
		sure = append(sure, f.placeNumbers(s.footNamed(f.side)))
		changed = append(changed, s.changed(f), s.before(f), s.changedSideways(f))
	}
	changed = s.mergeFeet(changed)
	add(say("progress ask sure"), append(sure, s.kerns()...)...)
	add(say("progress ask changed"), append(changed, s.explained()...)...)
	add(say("progress ask sides"), s.sides())
	add(say("progress ask load"), s.load())
	add(say("progress ask said"), strings.Join(s.lastVisitTexts(), " "))
	return all
}

func nonEmpty(all []string) []string {
	return slices.DeleteFunc(all, func(one string) bool { return one == "" })
}

// changed returns what changed on a foot since the reference, and whether it is beyond
// noise.
func (s *progressSeries) changed(f footPlace) string {
	foot := firstUpper(s.footNamed(f.side))
	switch {
	case f.at.Change != nil:
		in := ""
		if len(f.over.shown) > 1 {
			in = say("progress in shoe", shortened(f.now.Shoe, maxText))
		}
		return say("progress changed", foot, changeText(measure.Over, *f.at.Change), date(f.now.reference().At), in, wordingText(measure.Over, f.now, f.at))
	case len(f.now.Points) > 1:
		return say("progress at reference", foot)
	}
	return say("progress foot", foot, f.first())
}

// first returns the sentence that the last visit is the first one, or the first in its
// shoe.
func (f footPlace) first() string {
	if len(f.over.shown) > 1 {
		return say("progress first in", shortened(f.now.Shoe, maxText))
	}
	return say("progress one visit")
}

// mergeFeet merges equal sentences about the two feet: that the last visit is the first
// one, or the first in its shoe.
func (s *progressSeries) mergeFeet(said []string) []string {
	if len(s.feet) < 2 || s.feet[0].first() != s.feet[1].first() {
		return said
	}
	first := s.feet[0].first()
	is := func(text string) bool {
		return slices.ContainsFunc(s.feet, func(f footPlace) bool { return text == say("progress foot", firstUpper(s.footNamed(f.side)), first) })
	}
	rest := slices.DeleteFunc(slices.Clone(said), is)
	if len(said)-len(rest) < 2 {
		return said
	}
	return append([]string{first}, rest...)
}

// changedSideways returns the change of medial on a foot, where it is beyond noise.
func (s *progressSeries) changedSideways(f footPlace) string {
	of, at, ok := f.medial.in(f.at.Visit)
	if !ok || at.Wording != track.BeyondNoise {
		return ""
	}
	return say("progress medial changed", firstUpper(s.footNamed(f.side)), changeText(measure.Medial, *at.Change), date(of.reference().At), wordingText(measure.Medial, of, at))
}

// before returns the change in the shoe before the one of the last visit, "" where there
// is none.
func (s *progressSeries) before(f footPlace) string {
	for i := len(f.over.shown) - 1; i >= 0; i-- {
		one := f.over.shown[i]
		if at := last(one.points); at.At.Before(f.at.At) && at.Change != nil && one.points[0].Visit != f.now.points[0].Visit {
			return say("progress before", firstUpper(s.footNamed(f.side)), shortened(one.Shoe, maxText), date(at.At), changeText(measure.Over, *at.Change), date(one.reference().At), wordingText(measure.Over, one, at))
		}
	}
	return ""
}

// changeText returns a change with its direction.
func changeText(m measure.Measure, change float64) string {
	d := words.DisplayOf(m)
	text := d.Difference(change, nil)
	if towards := map[bool]string{true: d.High, false: d.Low}[change > 0]; towards != "" && strings.ContainsAny(text, "+−") {
		return say("progress towards", d.Value(abs(change)), towards)
	}
	return text
}

// wordingText returns the wording of a change, with the minimal detectable change.
func wordingText(m measure.Measure, s shownSeries, p track.Point) string {
	switch {
	case s.Repeat == nil:
		return say("progress unknown")
	case p.Wording == "":
		return say("progress not judged")
	}
	d := words.DisplayOf(m)
	return say("progress noise", string(p.Wording), strings.TrimPrefix(d.Difference(s.Repeat.MDC95, nil), "+"))
}

// explained returns other differences between the last visit and the reference.
func (s *progressSeries) explained() []string {
	var flags []string
	for _, f := range s.feet {
		for _, flag := range f.at.Flags {
			if !slices.Contains(flags, string(flag)) {
				flags = append(flags, string(flag))
			}
		}
	}
	if flags == nil {
		return nil
	}
	return []string{say("progress differs", shortened(strings.Join(flags, "; "), 2*maxShoes))}
}

// sides compares the left foot with the right one, at the last visit on both.
func (s *progressSeries) sides() string {
	between, ok := s.side(measure.Over, track.Between)
	if !ok {
		if len(s.feet) < 2 {
			return say("progress one foot", sideName(s.feet[0].side))
		}
		return say("progress not compared")
	}
	now, at := between.last()
	first, other, sign := track.Left, track.Right, 1.0
	if s.Watched == string(track.Right) {
		first, other, sign = track.Right, track.Left, -1
	}
	d := words.DisplayOf(measure.Over)
	difference := sign * at.Mean
	var text string
	key := map[bool]string{true: "progress farther front", false: "progress farther back"}[difference > 0]
	switch {
	case at.OfMean == nil:
		text = say("progress sides unsure", sideName(first), sideName(other), words.Number(difference, d.Decimals))
	case at.OfMean.CI95[0] <= 0 && at.OfMean.CI95[1] >= 0:
		text = say("progress sides alike", sideName(first), sideName(other), words.Number(difference, d.Decimals), words.Number(half(at.OfMean.CI95), d.Decimals))
	default:
		text = say(key, sideName(first), sideName(other), words.Number(abs(difference), d.Decimals), words.Number(half(at.OfMean.CI95), d.Decimals))
	}
	if at.Change != nil {
		then := sign * now.reference().Mean
		key := map[bool]string{true: "progress then front", false: "progress then back"}[then > 0]
		text += " " + say(key, date(now.reference().At), words.Number(abs(then), d.Decimals), sideName(first), wordingText(measure.Over, now, at))
	}
	return text
}

func abs(v float64) float64 { return max(v, -v) }

// load returns the load share and the body weight on at the last visit with a relevé.
func (s *progressSeries) load() string {
	var parts []string
	share, ok := s.side(measure.LoadShare, track.Both)
	if ok {
		d := words.DisplayOf(measure.LoadShare)
		now, at := share.last()
		text := d.Value(at.Mean)
		if at.OfMean != nil {
			text = d.PlusMinus(at.Mean, &at.OfMean.CI95)
		}
		text = say("progress share", text)
		if at.Change != nil {
			since, wording := date(now.reference().At), shareWording(now, at)
			change := d.Difference(abs(*at.Change), nil)
			key := map[bool]string{true: "progress share more", false: "progress share less"}[*at.Change > 0]
			if strings.HasPrefix(change, "+") {
				text = say("progress share since", text, say(key, strings.TrimPrefix(change, "+")), since, wording)
			} else {
				text = say("progress share same", text, since, wording)
			}
		}
		parts = append(parts, say("sentence", text))
	}
	for i := len(s.Visits) - 1; i >= 0; i-- {
		if s.measuredIn(s.Visits[i]) {
			if weight := s.bothFeet(s.Visits[i]); weight != "" {
				parts = append(parts, weight)
			}
			break
		}
	}
	return strings.Join(parts, " ")
}

// shareWording is wordingText for the load share, without the unit, which stands before it.
func shareWording(s shownSeries, p track.Point) string {
	text := wordingText(measure.LoadShare, s, p)
	unit := words.DisplayOf(measure.LoadShare).DiffUnit
	for _, one := range []string{unit, strings.TrimSuffix(unit, "s")} {
		text = strings.Replace(text, " "+one+")", ")", 1)
	}
	return text
}

// maxStops is the number of stops that page 1 describes.
const maxStops = 3

// stopTexts returns the date of every stop and the pain before and after, the last ones
// where there are many; without a stop that there was none, where pain was recorded.
func (s *progressSeries) stopTexts() (texts []string) {
	asked := false
	for _, v := range s.Visits {
		asked = asked || v.asked()
		switch {
		case v.Notice == "":
		case v.asked():
			texts = append(texts, say("progress stop on", painOf(v), date(v.Day)))
		default:
			texts = append(texts, say("progress stop only", date(v.Day)))
		}
	}
	switch earlier := len(texts) - maxStops; {
	case len(texts) == 0 && asked:
		return []string{say("progress no stop")}
	case earlier > 0:
		return append([]string{say("progress stops", earlier)}, texts[earlier:]...)
	}
	return texts
}

// painOf returns the pain before and after a visit in words.
func painOf(v Visit) string {
	var pain []string
	if v.PainBefore != nil {
		pain = append(pain, say("progress pain before", *v.PainBefore))
	}
	if v.PainAfter != nil {
		pain = append(pain, say("progress pain after", *v.PainAfter))
	}
	return strings.Join(pain, ", ")
}

// singleLeg returns the rises on one leg of the last visit, and those of the first visit
// with a count, "" where the last visit has none.
func (s *progressSeries) singleLeg() string {
	counts := words.SingleLeg(s.Visits[len(s.Visits)-1].SingleLeg)
	if counts == "" {
		return ""
	}
	for _, v := range s.Visits[:len(s.Visits)-1] {
		if then := words.SingleLeg(v.SingleLeg); then != "" {
			return say("progress single then", counts, date(v.Day), then)
		}
	}
	return counts
}

// lastVisitTexts returns the remarks about the last visit: pain, rises on one leg, a
// note.
func (s *progressSeries) lastVisitTexts() (texts []string) {
	texts = s.stopTexts()
	if i := s.lastAsked(); i >= 0 && s.Visits[i].asked() && s.Visits[i].Notice == "" {
		texts = append(texts, say("progress pain then", painOf(s.Visits[i]), date(s.Visits[i].Day)))
	}
	if len(s.Visits) == 0 {
		return texts
	}
	v := s.Visits[len(s.Visits)-1]
	if counts := s.singleLeg(); counts != "" {
		texts = append(texts, say("progress single leg", counts))
	}
	if v.Note != "" {
		texts = append(texts, say("progress note", say("quoted", shortened(v.Note, maxNote))))
	}
	if v.Choice != "" {
		texts = append(texts, say("sentence", firstUpper(say("progress choice", shortened(v.Choice, maxText)))))
	}
	return texts
}

// trendColumn is a picture with its heading, which spans all following columns without
// one.
type trendColumn struct {
	Heading string
	Both    bool // whether the picture is of both feet
	Picture template.HTML
	tall    float64 // height of the picture for its width
}

// Heights of the plots of the pictures, points.
const (
	overPlot   = 100
	medialPlot = 44
	bothPlot   = 40 // of a measure of both feet
)

// columns returns the pictures: the position of each foot's load over the visits and
// below them, under a separate heading, the load of both feet and the pain on the same
// time axis. With one foot these are beside it in one picture.
func (s *progressSeries) columns() (out []trendColumn, err error) {
	var pictures []*plots.Trend
	theme := plots.DefaultTheme()
	visits := s.times()
	for i, f := range s.feet {
		p := &plots.Trend{Theme: theme, Visits: visits, Changes: s.shoeChanges(f), Stops: s.stops()}
		for _, of := range []struct {
			m    measure.Measure
			side sheetSide
			tall vg.Length
			kern *[2]float64
		}{{measure.Over, f.over, overPlot, f.kern}, {measure.Medial, f.medial, medialPlot, f.beside}} {
			if len(of.side.shown) == 0 {
				continue
			}
			panel := panelOf(of.m, of.side)
			panel.Plot, panel.Kern = of.tall, of.kern
			for _, v := range s.Visits {
				if _, _, ok := of.side.in(v.Name); !ok {
					panel.Missing = append(panel.Missing, s.timeOf(v))
				}
			}
			if len(s.feet) == 2 {
				other, _ := s.side(of.m, s.feet[1-i].side)
				panel.Other = allPoints(of.m, other)
			}
			p.Panels = append(p.Panels, panel)
		}
		pictures = append(pictures, p)
		out = append(out, trendColumn{Heading: firstUpper(s.footWatched(f.side))})
	}
	pictures[0].Marks = true
	pictures[len(pictures)-1].Zones = true
	both, heading := len(s.feet) == 2, say("progress beside")
	below := [][]plots.TrendPanel{s.loads(), s.pain()}
	if !both { // beside the foot
		below, heading = [][]plots.TrendPanel{append(s.pain(), s.loads()...)}, say("progress beside one")
	}
	for _, panels := range below {
		if len(panels) == 0 {
			continue
		}
		pictures = append(pictures, &plots.Trend{Theme: theme, Visits: visits, Stops: s.stops(), Changes: pictures[0].Changes, Panels: panels})
		out = append(out, trendColumn{Heading: heading, Both: both})
		heading = ""
	}
	plots.ShareAxes(pictures...)
	for i, p := range pictures {
		if out[i].Picture, err = inline(p); err != nil {
			return nil, err
		}
		wide, high := p.Size()
		out[i].tall = float64(high / wide)
	}
	return out, nil
}

// pain returns the panel of pain, none where it was not recorded.
func (s *progressSeries) pain() []plots.TrendPanel {
	var pain []plots.TrendPain
	for _, v := range s.Visits {
		if v.asked() {
			pain = append(pain, plots.TrendPain{At: s.timeOf(v), Before: v.PainBefore, After: v.PainAfter})
		}
	}
	if pain == nil {
		return nil
	}
	return []plots.TrendPanel{{Title: say("progress pain title"), Note: say("progress pain marks"), Pain: pain, Plot: s.plotBoth()}}
}

// loads returns the panel of the load share of both feet, or else of the load of the one foot.
func (s *progressSeries) loads() []plots.TrendPanel {
	if share, ok := s.side(measure.LoadShare, track.Both); ok {
		panel := panelOf(measure.LoadShare, share)
		even := 50.0
		panel.Title, panel.Note, panel.Equal, panel.Plot = say("progress share title"), say("progress share note"), &even, s.plotBoth()
		return []plots.TrendPanel{panel}
	}
	if load, ok := s.side(measure.Load, s.feet[0].side); ok && len(s.feet) == 1 {
		return []plots.TrendPanel{panelOf(measure.Load, load)}
	}
	return nil
}

// plotBoth returns the height of the plots of load share and pain, 0 for the usual one where
// they are beside a single foot.
func (s *progressSeries) plotBoth() vg.Length {
	if len(s.feet) == 1 {
		return 0
	}
	return bothPlot
}

// panelOf returns the panel of a measure of one side.
func panelOf(m measure.Measure, side sheetSide) plots.TrendPanel {
	d := words.DisplayOf(m)
	panel := plots.TrendPanel{Measure: d, Title: d.Title}
	if d.Unit != "" {
		panel.Title = say("progress measure unit", d.Title, d.Unit)
	}
	if d.Low != "" {
		panel.Note = say("progress ends", d.High, d.Low)
	}
	for _, one := range side.shown {
		panel.Segments = append(panel.Segments, plots.NewTrendSegment(d, one.Series, one.points))
	}
	return panel
}

// allPoints returns the means of a side at every visit, by time.
func allPoints(m measure.Measure, side sheetSide) (points []plots.TrendPoint) {
	for _, segment := range panelOf(m, side).Segments {
		points = append(points, segment.Points...)
	}
	slices.SortStableFunc(points, func(a, b plots.TrendPoint) int { return a.At.Compare(b.At) })
	return points
}

// times returns the times of all visits, and of all points where there are no visits.
func (s *progressSeries) times() (all []time.Time) {
	for _, v := range s.Visits {
		all = append(all, s.timeOf(v))
	}
	for _, f := range s.feet {
		for _, p := range allPoints(measure.Over, f.over) {
			if !slices.ContainsFunc(all, p.At.Equal) && len(s.Visits) == 0 {
				all = append(all, p.At)
			}
		}
	}
	return all
}

func (s *progressSeries) stops() (all []time.Time) {
	for _, v := range s.Visits {
		if v.Notice != "" {
			all = append(all, s.timeOf(v))
		}
	}
	return all
}

// shoeChanges returns when a foot was followed in another shoe or under other conditions than
// at the visit before.
func (s *progressSeries) shoeChanges(f footPlace) (all []plots.TrendChange) {
	type visit struct {
		at time.Time
		of track.Series
	}
	var visits []visit
	for _, one := range f.over.shown {
		for _, p := range one.points {
			visits = append(visits, visit{p.At, one.Series})
		}
	}
	slices.SortStableFunc(visits, func(a, b visit) int { return a.at.Compare(b.at) })
	for i := 1; i < len(visits); i++ {
		was, is := visits[i-1], visits[i]
		var parts []string
		if was.of.Shoe != is.of.Shoe {
			parts = append(parts, say("lab worn", shortened(is.of.Shoe, maxText)))
		}
		if was.of.Support != is.of.Support {
			parts = append(parts, say("support", shortened(is.of.Support, maxText)))
		}
		if was.of.Rise != is.of.Rise {
			parts = append(parts, say("rise", shortened(is.of.Rise, maxText)))
		}
		if parts != nil {
			all = append(all, plots.TrendChange{Last: was.at, First: is.at, Text: joined(parts...), Short: say("lab worn", shortened(is.of.Shoe, maxText/2))})
		}
	}
	return all
}
