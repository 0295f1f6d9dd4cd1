package plots

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// Ladder compares many shoes with the first one by the primary measure. Each foot has a
// panel with the difference of every shoe and its 95 % interval, the best rank at the
// top, and the kern: the differences that bring the load of that shoe into its kern. All
// panels have one axis. Shoes that the comparison does not distinguish have the same
// rank.
type Ladder struct {
	Theme  Theme
	From   string // the shoe that the others are compared with
	Place  string // of From, in words
	Panels []LadderPanel
}

// LadderPanel is one foot under one set of conditions. Its numbers are in display
// units.
type LadderPanel struct {
	Title   string
	Measure words.Display
	Diffs   []ShoesDiff

	all valueRange // that the axis has to show: of all panels
}

// NewLadder returns the picture of a comparison. It has no panels where there are
// fewer than three shoes.
func NewLadder(c *compare.Comparison) *Ladder {
	p := &Ladder{Theme: DefaultTheme()}
	if len(c.Against) == 0 {
		return p
	}
	var under []measure.Conditions
	for _, a := range c.Against {
		under = append(under, a.Conditions)
	}
	p.From = c.Against[0].From
	p.Place = placeWords(c.Ranking, p.From)
	for _, s := range c.Ranking {
		for _, a := range c.Against {
			if a.To != s.Shoe {
				continue
			}
			display := words.DisplayOf(a.Measure)
			panel := p.panelOf(strings.Join(nonEmpty(a.Foot.String()+" foot", a.Support, a.Rise, compare.ApartOtherwise(a.Conditions, under)), ", "), display)
			panel.Diffs = append(panel.Diffs, ShoesDiff{
				Label: placeWords(c.Ranking, a.To) + ": shoe " + a.To, Numbers: display.Difference(a.Difference.Difference, nil),
				Wording: string(a.Wording), Diff: a.Difference.Difference * display.Scale, CI: scaled(a.CI95, display.Scale),
				Target: ladderTarget(c, a.Difference),
			})
		}
	}
	all := emptyRange()
	for i := range p.Panels {
		all = all.union(p.Panels[i].values())
	}
	for i := range p.Panels {
		p.Panels[i].all = all
	}
	return p
}

// ladderTarget returns the differences from the first shoe that bring the load into the
// kern of the other shoe; nil for a measure without a target.
func ladderTarget(c *compare.Comparison, d compare.Difference) *[2]float64 {
	for _, f := range c.Shoes {
		if f.Shoe == d.To && f.Foot == d.Foot && f.Conditions == d.Conditions {
			if kern := kernRange(f.Platform, d.Measure); kern != nil {
				return shifted(kern, -d.MeanFrom)
			}
		}
	}
	return nil
}

func (p *Ladder) panelOf(title string, s words.Display) *LadderPanel {
	for i := range p.Panels {
		if p.Panels[i].Title == title {
			return &p.Panels[i]
		}
	}
	p.Panels = append(p.Panels, LadderPanel{Title: title, Measure: s})
	return &p.Panels[len(p.Panels)-1]
}

// placeWords returns the place of a shoe in words, and whether other shoes share
// it.
func placeWords(ranking []compare.RankedShoe, shoe string) string {
	shoes := map[int]int{} // by place
	place := 0
	for _, s := range ranking {
		shoes[s.Place]++
		if s.Shoe == shoe {
			place = s.Place
		}
	}
	switch {
	case place == 0:
		return "no place"
	case shoes[place] > 1:
		return fmt.Sprintf("place %d, shared", place)
	}
	return fmt.Sprintf("place %d", place)
}

func nonEmpty(texts ...string) (out []string) {
	for _, t := range texts {
		if t != "" {
			out = append(out, t)
		}
	}
	return out
}

const ladderWide = 11 * vg.Centimeter

// Size implements Picture.
func (p *Ladder) Size() (width, height vg.Length) {
	h := vg.Length(2*panelMargin + pictureHead)
	for _, panel := range p.Panels {
		h += panel.height() + panelGap
	}
	return ladderWide, h + p.legend().height(p.Theme.small(), ladderWide-2*panelMargin)
}

func (p *LadderPanel) height() vg.Length {
	return 2*panelHead + vg.Length(len(p.Diffs))*shoesDiff + axisBlock
}

// Draw implements Picture.
func (p *Ladder) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	q.write(left, y-10, fromLeft, q.strong(), fit(p.title(), q.strong(), right-left))
	y -= pictureHead
	for _, panel := range p.Panels {
		q.write(left, y-10, fromLeft, style{q.Text, true, q.Quiet}, fit(panel.Title, style{q.Text, true, q.Quiet}, right-left))
		measure := panel.Measure
		measure.Title += ", difference"
		if measure.High != "" {
			measure.Title += " (+ is further to the " + measure.High + ")"
		}
		q.panelTitle(measure, left, right, y-panelHead)
		a := panel.axis(left+6, right-6)
		at := y - 2*panelHead
		for _, d := range panel.Diffs {
			d.draw(q, a, left, right, at, 0)
			at -= shoesDiff
		}
		measure.Low, measure.High = "", "" // the names of the ends apply to values, not to differences
		q.horizontalAxis(a, at, measure)
		y -= panel.height() + panelGap
	}
	p.legend().draw(q, left, y, right-left)
}

func (p *Ladder) title() string { return "Against shoe " + p.From + " (" + p.Place + ")" }

func (p *LadderPanel) axis(from, to vg.Length) axis { return p.all.axis(from, to) }

// values returns the range of what the panel shows.
func (p *LadderPanel) values() valueRange {
	s := emptyRange()
	s.include(0)
	var intervals [][2]float64
	for _, d := range p.Diffs {
		s.include(d.Diff)
		if d.Target != nil {
			s.include(d.Target[:]...)
		}
		if d.CI != nil {
			intervals = append(intervals, *d.CI)
		}
	}
	s.includeIntervals(intervals)
	return s
}

func (p *Ladder) legend() legend {
	if len(p.Panels) == 0 {
		return nil
	}
	l := differenceSamples("difference, 95 % interval", "no difference")
	for _, panel := range p.Panels {
		for _, d := range panel.Diffs {
			if d.Target != nil {
				return append(l, kernBandSample(words.Kern+" of the shoe"))
			}
		}
	}
	return l
}

// Describe implements Picture.
func (p *Ladder) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s.", p.title())
	for _, panel := range p.Panels {
		for _, d := range panel.Diffs {
			fmt.Fprintf(&b, " %s, %s: %s, %s.", panel.Title, d.Label, d.Numbers, d.Wording)
		}
	}
	return b.String()
}
