package report

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// measureBlock contains all results for one measure: its mean in each shoe on each foot,
// the differences between shoes, and those between the feet.
type measureBlock struct {
	Title, Definition string
	Declared          bool
	Groups            []estimateGroup
}

// estimateGroup is a group of estimates whose bars have one axis.
type estimateGroup struct {
	Of        string // name of the estimates, with their unit
	Low, High string // ends of the axis
	Lines     []estimateLine
}

// estimateLine is one estimate with both ends of its 95 % interval.
type estimateLine struct {
	Of, Value, Low, High string
	Bar                  *intervalBar
	Note                 string // wording of a difference, with its p-values
}

func newMeasureBlock(c *compare.Comparison, m measure.Measure, names map[string]string) measureBlock {
	s := words.DisplayOf(m)
	b := measureBlock{Title: s.Title, Definition: s.Definition, Declared: s.Kind == measure.Declared}
	for _, g := range []estimateGroup{meansOf(c, s, names), differencesOf(c, s, names)} {
		if len(g.Lines) > 0 {
			b.Groups = append(b.Groups, g)
		}
	}
	return b
}

func meansOf(c *compare.Comparison, s words.Display, names map[string]string) estimateGroup {
	g := estimateGroup{Of: joined(say("lab mean"), s.Unit)}
	a, under := axisOfMeans(c, s.Measure), conditionsOf(c)
	for _, f := range c.Shoes {
		mean, ok := f.Measures[s.Measure]
		if !ok {
			continue
		}
		l := newEstimateLine(s, mean.Mean, mean.CI95)
		l.Of = joined(names[f.Shoe], footText(s.Measure, f.Foot), compare.Apart(f.Conditions, under))
		l.Bar = a.bar(s, mean.Mean, mean.CI95, kernAlong(f.Platform, s.Measure))
		g.add(l)
	}
	g.Low, g.High = a.ends(s)
	return g
}

// differencesOf returns the differences of a measure between shoes, and left less right.
func differencesOf(c *compare.Comparison, s words.Display, names map[string]string) estimateGroup {
	g := estimateGroup{Of: joined(say("lab difference"), s.DiffUnit)}
	shoes := slices.DeleteFunc(slices.Concat(c.Differences, c.Between), func(d compare.Difference) bool { return d.Measure != s.Measure })
	feet := slices.DeleteFunc(slices.Clone(c.Feet), func(d compare.FeetDiff) bool { return d.Measure != s.Measure })
	var a axis
	for _, d := range shoes {
		a.include(s, d.Difference, d.CI95)
	}
	for _, d := range feet {
		a.include(s, d.Difference, d.CI95)
	}
	a.reach(0)
	under := conditionsOf(c)
	add := func(of string, diff float64, ci *[2]float64, note string) {
		l := newEstimateLine(s, diff, ci)
		l.Of, l.Value, l.Bar, l.Note = of, words.Signed(diff*s.Scale, s.Decimals), a.bar(s, diff, ci, nil), note
		g.add(l)
	}
	for _, d := range shoes {
		note := d.Wording.Judged(d.CI95)
		if d.P != nil && d.PHolm != nil {
			note = joined(note, say("lab p values", pValue(*d.P), pValue(*d.PHolm)))
		}
		add(joined(say("lab less", names[d.To], names[d.From]), footText(s.Measure, d.Foot), compare.Apart(d.Conditions, under)), d.Difference, d.CI95, note)
	}
	for _, d := range feet {
		add(joined(names[d.Shoe], say("lab left right"), compare.Apart(d.Conditions, under)), d.Difference, d.CI95, d.Wording.Judged(d.CI95))
	}
	g.Low, g.High = a.ends(s)
	return g
}

func newEstimateLine(s words.Display, v float64, ci *[2]float64) estimateLine {
	l := estimateLine{Value: words.Number(v*s.Scale, s.Decimals)}
	if ci != nil {
		l.Low, l.High = words.Number(ci[0]*s.Scale, s.Decimals), words.Number(ci[1]*s.Scale, s.Decimals)
	}
	return l
}

// add adds a line unless the last one has the same name, as for a measure that is the
// same number for both feet.
func (g *estimateGroup) add(l estimateLine) {
	if n := len(g.Lines); n == 0 || g.Lines[n-1].Of != l.Of {
		g.Lines = append(g.Lines, l)
	}
}

// kernAlong returns the extent of the kern along over or medial, mm; nil for any other
// measure.
func kernAlong(p measure.Platform, m measure.Measure) *[2]float64 {
	along, ok := map[measure.Measure]int{measure.Medial: 0, measure.Over: 1}[m]
	if !ok || len(p.Kern) == 0 {
		return nil
	}
	lo, hi := p.Kern.Bounds()
	return &[2]float64{lo[along], hi[along]}
}

// axis is the range of numbers that bars share, in the unit on display. The zero value has
// no range yet.
type axis struct {
	low, high float64
	known     bool
}

// reach extends the axis to a number.
func (a *axis) reach(v float64) {
	if !a.known {
		a.low, a.high, a.known = v, v, true
	}
	a.low, a.high = min(a.low, v), max(a.high, v)
}

// include extends the axis to an estimate and its interval.
func (a *axis) include(s words.Display, v float64, ci *[2]float64) {
	a.reach(v * s.Scale)
	if ci != nil {
		a.reach(ci[0] * s.Scale)
		a.reach(ci[1] * s.Scale)
	}
}

// ends returns both ends of the axis as numbers, "" where it has no length.
func (a axis) ends(s words.Display) (low, high string) {
	if !a.known || a.high <= a.low {
		return "", ""
	}
	return words.Number(a.low, s.Decimals), words.Number(a.high, s.Decimals)
}

// text returns both ends of the axis in words, "" where it has no length.
func (a axis) text(s words.Display) string {
	low, high := a.ends(s)
	if low == "" {
		return ""
	}
	return say("lab axis", low, high)
}

// axisOfMeans returns the axis of the means of a measure. A contact share has the whole of
// 0 to 100 %.
func axisOfMeans(c *compare.Comparison, m measure.Measure) (a axis) {
	s := words.DisplayOf(m)
	for _, f := range c.Shoes {
		if mean, ok := f.Measures[m]; ok {
			a.include(s, mean.Mean, mean.CI95)
			if kern := kernAlong(f.Platform, m); kern != nil {
				a.reach(kern[0])
				a.reach(kern[1])
			}
		}
	}
	if m == measure.ContactShare && a.known {
		a.reach(0)
		a.reach(100)
	}
	return a
}

// axisOfReleves returns the axis of over in the relevés of all recordings.
func axisOfReleves(results []*measure.Result) (a axis) {
	for _, r := range results {
		for _, rel := range r.Releves {
			if rel.Hold == nil {
				continue
			}
			a.include(words.DisplayOf(measure.Over), rel.OverMM, overInterval(rel.Hold))
			if p := r.Platforms.Of(rel.Foot); p != nil {
				if kern := kernAlong(*p, measure.Over); kern != nil {
					a.reach(kern[0])
					a.reach(kern[1])
				}
			}
		}
	}
	return a
}

// intervalBar is an estimate on an axis as positions in per cent of the axis, each a declaration of
// CSS. Those that are "" are not drawn.
type intervalBar struct{ Interval, Mean, Zero, Target template.CSS }

// bar returns the bar of an estimate, nil where the axis has no length. target is the kern
// along the axis, nil for none.
func (a axis) bar(s words.Display, v float64, ci, target *[2]float64) *intervalBar {
	if !a.known || a.high <= a.low {
		return nil
	}
	b := &intervalBar{Mean: a.at(v * s.Scale)}
	if ci != nil {
		b.Interval = a.span(ci[0]*s.Scale, ci[1]*s.Scale)
	}
	if target != nil {
		b.Target = a.span(target[0], target[1])
	} else if a.low <= 0 && 0 <= a.high {
		b.Zero = a.at(0)
	}
	return b
}

// percentOf returns where on the axis a number is, in per cent of its length.
func (a axis) percentOf(v float64) float64 {
	return math.Max(0, math.Min(100, 100*(v-a.low)/(a.high-a.low)))
}

func (a axis) at(v float64) template.CSS {
	return template.CSS(fmt.Sprintf("left:%.1f%%", a.percentOf(v)))
}

func (a axis) span(low, high float64) template.CSS {
	from, to := a.percentOf(low), a.percentOf(high)
	return template.CSS(fmt.Sprintf("left:%.1f%%;width:%.1f%%", from, cmp.Or(to-from, 0.1)))
}
