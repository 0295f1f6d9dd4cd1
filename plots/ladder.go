package plots

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
)

// Ladder sets many shoes against the first one, by the declared measure: on each
// foot a rung a shoe, the best place at the top, with the difference and its
// 95 % interval. Shoes that are not told apart share a place, and it says so.
type Ladder struct {
	Look   Look
	From   string // the shoe that the others are set against
	Place  string // its own
	Panels []LadderPanel
}

// LadderPanel is one foot under the same conditions. Its numbers are in shown units.
type LadderPanel struct {
	Title   string
	Measure Shown
	Rungs   []ShoesDiff
}

// NewLadder takes a comparison of three shoes or more; one of fewer has no panels.
func NewLadder(c *compare.Comparison) *Ladder {
	p := &Ladder{Look: DefaultLook()}
	if len(c.Against) == 0 {
		return p
	}
	p.From = c.Against[0].From
	p.Place = place(c.Ranking, p.From)
	for _, s := range c.Ranking {
		for _, a := range c.Against {
			if a.To != s.Shoe {
				continue
			}
			shown := Show(a.Measure)
			panel := p.panel(strings.Join(nonEmpty(a.Foot.String()+" foot", a.Support, a.Rise), ", "), shown)
			panel.Rungs = append(panel.Rungs, ShoesDiff{
				Label: place(c.Ranking, a.To) + ": shoe " + a.To, Numbers: shown.Difference(a.Difference.Difference, nil),
				Wording: string(a.Wording), Diff: a.Difference.Difference * shown.Scale, CI: scaled(a.CI95, shown.Scale),
			})
		}
	}
	return p
}

func (p *Ladder) panel(title string, s Shown) *LadderPanel {
	for i := range p.Panels {
		if p.Panels[i].Title == title {
			return &p.Panels[i]
		}
	}
	p.Panels = append(p.Panels, LadderPanel{Title: title, Measure: s})
	return &p.Panels[len(p.Panels)-1]
}

// place says which place a shoe has, and whether others have it too.
func place(ranking []compare.Standing, shoe string) string {
	at := map[int]int{}
	mine := 0
	for _, s := range ranking {
		at[s.Place]++
		if s.Shoe == shoe {
			mine = s.Place
		}
	}
	switch {
	case mine == 0:
		return "no place"
	case at[mine] > 1:
		return fmt.Sprintf("place %d, shared", mine)
	}
	return fmt.Sprintf("place %d", mine)
}

func nonEmpty(words ...string) (out []string) {
	for _, w := range words {
		if w != "" {
			out = append(out, w)
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
	return ladderWide, h + p.legend().height(p.Look.small(), ladderWide-2*panelMargin)
}

func (p *LadderPanel) height() vg.Length {
	return 2*panelHead + vg.Length(len(p.Rungs))*shoesDiff + axisBlock
}

// Draw implements Picture.
func (p *Ladder) Draw(c draw.Canvas) {
	q := newPen(c, &p.Look)
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
		for _, d := range panel.Rungs {
			d.draw(q, a, left, right, at, 0)
			at -= shoesDiff
		}
		measure.Low, measure.High = "", "" // ends of values, not of differences
		q.valueAxis(a, at, measure)
		y -= panel.height() + panelGap
	}
	p.legend().draw(q, left, y, right-left)
}

func (p *Ladder) title() string { return "Against shoe " + p.From + " (" + p.Place + ")" }

func (p *LadderPanel) axis(from, to vg.Length) axis {
	s := newSpread()
	s.hold(0)
	var intervals [][2]float64
	for _, d := range p.Rungs {
		s.hold(d.Diff)
		if d.CI != nil {
			intervals = append(intervals, *d.CI)
		}
	}
	s.stretch(intervals)
	return s.axis(from, to)
}

func (p *Ladder) legend() legend {
	if len(p.Panels) == 0 {
		return nil
	}
	return legend{
		{22, func(q pen, at vg.Point) {
			q.interval(axis{0, 1, at.X, at.X + 22}, at.Y, q.Ink, [2]float64{0, 1})
			q.ring(vg.Point{X: at.X + 11, Y: at.Y})
		}, "difference, 95 % interval"},
		{4, func(q pen, at vg.Point) {
			q.dashed(0.8, q.Quiet, vg.Point{X: at.X + 2, Y: at.Y - 6}, vg.Point{X: at.X + 2, Y: at.Y + 6})
		}, "no difference"},
	}
}

// Describe implements Picture.
func (p *Ladder) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s.", p.title())
	for _, panel := range p.Panels {
		for _, d := range panel.Rungs {
			fmt.Fprintf(&b, " %s, %s: %s, %s.", panel.Title, d.Label, d.Numbers, d.Wording)
		}
	}
	return b.String()
}
