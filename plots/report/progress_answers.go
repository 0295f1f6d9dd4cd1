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
		sure = append(sure, say("progress sure", capital(s.footNamed(f.side)), f.sure()))
		changed = append(changed, s.changed(f), f.before(), s.changedSideways(f))
	}
	add(say("progress ask sure"), append(sure, s.kerns()...)...)
	add(say("progress ask changed"), append(changed, s.explained()...)...)
	add(say("progress ask sides"), s.sides())
	add(say("progress ask load"), s.load())
	add(say("progress ask said"), strings.Join(s.said(), " "))
	return all
}

func nonEmpty(all []string) []string {
	return slices.DeleteFunc(all, func(one string) bool { return one == "" })
}

// capital returns a text with its first letter as a capital one.
func capital(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// changed says what changed on a foot since the reference, and whether it is beyond noise.
func (s *progressSeries) changed(f footPlace) string {
	foot := capital(s.footNamed(f.side))
	switch {
	case f.at.Change != nil:
		in := ""
		if len(f.over.shown) > 1 {
			in = say("progress in shoe", shortened(f.now.Shoe, maxText))
		}
		return say("progress changed", foot, changeText(measure.Over, *f.at.Change), date(f.now.reference().At), in, wordingText(measure.Over, f.now, f.at))
	case len(f.now.Points) > 1:
		return say("progress at reference", foot)
	case len(f.over.shown) > 1:
		return say("progress first in", foot, shortened(f.now.Shoe, maxText))
	}
	return say("progress one visit", foot)
}

// changedSideways says what changed in medial on a foot, where it is beyond noise.
func (s *progressSeries) changedSideways(f footPlace) string {
	of, at, ok := f.medial.in(f.at.Visit)
	if !ok || at.Wording != track.BeyondNoise {
		return ""
	}
	return say("progress medial changed", capital(s.footNamed(f.side)), changeText(measure.Medial, *at.Change), date(of.reference().At), wordingText(measure.Medial, of, at))
}

// before says what changed in the shoe before the one of the last visit, "" where there is none.
func (f footPlace) before() string {
	for i := len(f.over.shown) - 1; i >= 0; i-- {
		one := f.over.shown[i]
		if at := last(one.points); at.At.Before(f.at.At) && at.Change != nil && one.points[0].Visit != f.now.points[0].Visit {
			return say("progress before", shortened(one.Shoe, maxText), date(at.At), changeText(measure.Over, *at.Change), date(one.reference().At), wordingText(measure.Over, one, at))
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

// explained says what else differs between the last visit and the reference.
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
			text = say("progress share since", text, changeText(measure.LoadShare, *at.Change), date(now.reference().At), wordingText(measure.LoadShare, now, at))
		}
		parts = append(parts, say("sentence", text))
	}
	for i := len(s.Visits) - 1; i >= 0; i-- {
		if s.measuredIn(s.Visits[i]) {
			if weight := s.bodyWeight(s.Visits[i]); weight != "" {
				parts = append(parts, say("progress body weight", weight))
			}
			break
		}
	}
	return strings.Join(parts, " ")
}

// said returns what people said of the last visit: pain, rises on one leg, a note.
func (s *progressSeries) said() (texts []string) {
	if i := s.lastAsked(); i >= 0 && s.Visits[i].asked() {
		v := s.Visits[i]
		var pain []string
		if v.PainBefore != nil {
			pain = append(pain, say("progress pain before", *v.PainBefore))
		}
		if v.PainAfter != nil {
			pain = append(pain, say("progress pain after", *v.PainAfter))
		}
		texts = append(texts, say("progress pain then", strings.Join(pain, ", "), date(v.Day)))
	}
	if len(s.Visits) == 0 {
		return texts
	}
	v := s.Visits[len(s.Visits)-1]
	if counts := words.SingleLeg(v.SingleLeg); counts != "" {
		texts = append(texts, say("progress single leg", counts))
	}
	if v.Note != "" {
		texts = append(texts, say("progress note", say("quoted", shortened(v.Note, maxNote))))
	}
	if v.Choice != "" {
		texts = append(texts, say("sentence", capital(say("progress choice", shortened(v.Choice, maxText)))))
	}
	return texts
}

// trendColumn is a picture with its heading.
type trendColumn struct {
	Heading string
	Picture template.HTML
	tall    float64 // height of the picture for its width
}

// Heights of the plots of the pictures, points.
const (
	overPlot   = 110
	medialPlot = 48
)

// columns returns the pictures: each foot's places over the visits, and below them the pain
// and the load on the same time axis. With one foot these have a picture of their own.
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
		out = append(out, trendColumn{Heading: capital(s.footWatched(f.side))})
	}
	pain, load := s.pain(), s.loads()
	pictures[0].Marks = true
	if len(pictures) == 2 {
		pictures[0].Panels, pictures[1].Panels = append(pictures[0].Panels, load...), append(pictures[1].Panels, pain...)
		pictures[1].Zones = true
	} else {
		pictures[0].Zones = true
		if below := append(pain, load...); len(below) > 0 {
			pictures = append(pictures, &plots.Trend{Theme: theme, Visits: visits, Stops: s.stops(), Changes: pictures[0].Changes, Panels: below})
			out = append(out, trendColumn{Heading: say("progress beside")})
		}
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

// pain returns the panel of pain, none where nobody asked.
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
	return []plots.TrendPanel{{Title: say("progress pain title"), Note: say("progress pain marks"), Pain: pain}}
}

// loads returns the panel of the load share of both feet, or else of the load of the one foot.
func (s *progressSeries) loads() []plots.TrendPanel {
	if share, ok := s.side(measure.LoadShare, track.Both); ok {
		panel := panelOf(measure.LoadShare, share)
		even := 50.0
		panel.Title, panel.Note, panel.Equal = say("progress share title"), say("progress share note"), &even
		return []plots.TrendPanel{panel}
	}
	if load, ok := s.side(measure.Load, s.feet[0].side); ok && len(s.feet) == 1 {
		return []plots.TrendPanel{panelOf(measure.Load, load)}
	}
	return nil
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

// times returns the times of all visits, and of all points where nothing is known of visits.
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
			all = append(all, plots.TrendChange{Last: was.at, First: is.at, Text: joined(parts...), Short: shortened(is.of.Shoe, maxText)})
		}
	}
	return all
}
