package plots

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/reliability"
	"aplomb/plots/words"
)

// Components shows the standard deviations of a measure by level of repetition, with
// their 95 % intervals. Each foot has a panel.
type Components struct {
	Theme   Theme
	Measure words.Display
	Panels  []ComponentsPanel
}

// ComponentsPanel is one foot. Its numbers are in display units.
type ComponentsPanel struct {
	Title string
	Bars  []ComponentBar
}

// ComponentBar is one component of variance.
type ComponentBar struct {
	Label string
	SD    float64
	CI    [2]float64
	Share float64 // of the variance, 0 to 1
}

// Agreement is the picture of Bland & Altman (Lancet i (1986) 307-310): the difference of two
// repetitions against their mean, with bias and limits of agreement and the 95 % intervals
// of these. Each foot has a panel.
type Agreement struct {
	Theme   Theme
	Measure words.Display
	Of      string // what a point is
	Panels  []AgreementPanel
}

// AgreementPanel is one foot. Its numbers are in display units.
type AgreementPanel struct {
	Title string
	What  string // the difference in words
	Pairs [][2]float64
	Lines [3]AgreementLine // lower limit, bias, upper limit
}

// AgreementLine is a bias or a limit.
type AgreementLine struct {
	At float64
	CI [2]float64
}

// Reliability returns the pictures of the reliability of a measure, without those that
// would be empty.
func Reliability(r *reliability.Reliability) (all []Named) {
	c := &Components{Theme: DefaultTheme(), Measure: words.DisplayOf(r.Measure)}
	a := &Agreement{Theme: DefaultTheme(), Measure: words.DisplayOf(r.Measure), Of: "one dancer or shoe"}
	for i := range r.Feet {
		f := &r.Feet[i]
		panel := ComponentsPanel{Title: f.Name()}
		for _, one := range f.Components {
			panel.Bars = append(panel.Bars, ComponentBar{one.Name(), one.SD * c.Measure.Scale, *scaled(&one.CI95, c.Measure.Scale), one.Share})
		}
		if len(panel.Bars) > 0 {
			c.Panels = append(c.Panels, panel)
		}
		if f.Agreement != nil {
			a.Panels = append(a.Panels, agreementPanel(f, a.Measure.Scale))
		}
	}
	if len(c.Panels) > 0 {
		all = append(all, Named{"components-" + r.Measure.Symbol(), c})
	}
	if len(a.Panels) > 0 {
		all = append(all, Named{"agreement-" + r.Measure.Symbol(), a})
	}
	return all
}

func agreementPanel(f *reliability.Foot, scale float64) AgreementPanel {
	a := f.Agreement
	one := map[reliability.Between]string{reliability.Visits: "visit", reliability.Mountings: "mounting"}[f.Between]
	panel := AgreementPanel{Title: f.Name(), What: "first " + one + " less second"}
	for _, p := range a.Pairs {
		panel.Pairs = append(panel.Pairs, [2]float64{p.Mean * scale, p.Difference * scale})
	}
	line := func(at float64, ci [2]float64) AgreementLine { return AgreementLine{at * scale, *scaled(&ci, scale)} }
	panel.Lines = [3]AgreementLine{line(a.Lower, a.LowCI), line(a.Bias, a.BiasCI), line(a.Upper, a.UpCI)}
	return panel
}

// titled returns a title that ends with a measure and the unit of its differences.
func titled(begin string, m words.Display) string {
	if m.DiffUnit == "" {
		return begin + m.Title
	}
	return begin + m.Title + ", " + m.DiffUnit
}

const (
	componentWide  = 11 * vg.Centimeter
	componentRow   = 15
	componentLabel = 118 // for the names to the left of the axis
	componentShare = 34  // for the shares to the right of it
)

// Size implements Picture.
func (p *Components) Size() (width, height vg.Length) {
	h := vg.Length(2*panelMargin + pictureHead)
	for _, panel := range p.Panels {
		h += panel.height() + panelGap
	}
	return componentWide, h - panelGap + p.legend().height(p.Theme.small(), componentWide-2*panelMargin)
}

func (p *ComponentsPanel) height() vg.Length {
	return panelHead + vg.Length(len(p.Bars))*componentRow + axisBlock
}

// Draw implements Picture.
func (p *Components) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	q.write(left, y-10, fromLeft, q.strong(), fit(titled("What scatters: ", p.Measure), q.strong(), right-left))
	y -= pictureHead
	all := emptyRange() // panels have one axis
	for i := range p.Panels {
		all = all.union(p.Panels[i].values())
	}
	for _, panel := range p.Panels {
		panel.draw(q, p.Measure, all, left, right, y)
		y -= panel.height() + panelGap
	}
	p.legend().draw(q, left, y+panelGap, right-left)
}

// values returns the range of what the panel shows.
func (p *ComponentsPanel) values() valueRange {
	values := emptyRange()
	values.include(0)
	var intervals [][2]float64
	for _, b := range p.Bars {
		values.include(b.SD)
		intervals = append(intervals, b.CI)
	}
	values.includeIntervals(intervals)
	return values
}

func (p *ComponentsPanel) draw(q canvas, m words.Display, all valueRange, left, right, y vg.Length) {
	bold := style{q.Text, true, q.Ink}
	q.write(left, y-10, fromLeft, bold, fit(p.Title, bold, right-left))
	y -= panelHead
	a := all.axis(left+componentLabel, right-componentShare)
	for _, b := range p.Bars {
		at := y - componentRow/2
		q.write(left, at-q.Text*0.35, fromLeft, q.text(), fit(b.Label, q.text(), componentLabel-6))
		q.drawMean(a, at, b.SD, &b.CI)
		q.write(right, at-q.Small*0.35, fromRight, q.small(), words.Number(100*b.Share, 0)+" %")
		y -= componentRow
	}
	m.Low, m.High = "", "" // they name the ends of values
	q.horizontalAxis(a, y, m)
}

func (p *Components) legend() legend {
	return legend{
		{20, func(q canvas, at vg.Point) {
			q.drawMean(axis{0, 1, at.X, at.X + 20}, at.Y, 0.4, &[2]float64{0.1, 0.9})
		}, "standard deviation with 95 % interval, share of the variance"},
	}
}

// Describe implements Picture.
func (p *Components) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "What scatters: %s.", p.Measure.Title)
	for _, panel := range p.Panels {
		fmt.Fprintf(&b, " %s:", panel.Title)
		for i, c := range panel.Bars {
			if i > 0 {
				b.WriteString(",")
			}
			fmt.Fprintf(&b, " %s %s, %s %% of the variance", c.Label, p.Measure.Fine(c.SD/p.Measure.Scale), words.Number(100*c.Share, 0))
		}
		b.WriteString(".")
	}
	return b.String()
}

const (
	agreementWide  = 11 * vg.Centimeter
	agreementPlot  = 120
	agreementScale = 40 // for the figures to the left of a panel
	agreementLabel = 62 // for the names of the lines to the right of it
	agreementCI    = 36 // for the intervals of the lines, within the panel
)

// Size implements Picture.
func (p *Agreement) Size() (width, height vg.Length) {
	panels := vg.Length(len(p.Panels)) * (2*panelHead + agreementPlot + axisBlock + panelGap)
	return agreementWide, 2*panelMargin + pictureHead + panels - panelGap + p.legend().height(p.Theme.small(), agreementWide-2*panelMargin)
}

// Draw implements Picture.
func (p *Agreement) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	q.write(left, y-10, fromLeft, q.strong(), fit(titled("Agreement: ", p.Measure), q.strong(), right-left))
	y -= pictureHead
	means, differences := emptyRange(), emptyRange() // panels have the same axes
	for i := range p.Panels {
		m, d := p.Panels[i].values()
		means, differences = means.union(m), differences.union(d)
	}
	for _, panel := range p.Panels {
		panel.draw(q, p.Measure, means, differences, left, right, y)
		y -= 2*panelHead + agreementPlot + axisBlock + panelGap
	}
	p.legend().draw(q, left, y+panelGap, right-left)
}

// values returns the ranges of the means and of the differences that the panel shows.
func (p *AgreementPanel) values() (means, differences valueRange) {
	means, differences = emptyRange(), emptyRange()
	differences.include(0)
	var intervals [][2]float64
	for _, pair := range p.Pairs {
		means.include(pair[0])
		differences.include(pair[1])
	}
	for _, l := range p.Lines {
		differences.include(l.At)
		intervals = append(intervals, l.CI)
	}
	differences.includeIntervals(intervals)
	return means, differences
}

func (p *AgreementPanel) draw(q canvas, m words.Display, means, differences valueRange, left, right, y vg.Length) {
	bold := style{q.Text, true, q.Ink}
	q.write(left, y-10, fromLeft, bold, fit(p.Title, bold, right-left))
	y -= panelHead
	q.write(left, y-10, fromLeft, q.small(), fit(p.What+", against the mean of both", q.small(), right-left))
	y -= panelHead

	edge, end := left+agreementScale, right-agreementLabel
	across, up := means.axis(edge+4, end-4-agreementCI), differences.axis(y-agreementPlot, y)
	beside := vg.Rectangle{Min: vg.Point{X: end - agreementCI, Y: y - agreementPlot}, Max: vg.Point{X: end, Y: y}}
	q.box(beside, q.Tint)
	q.line(0.7, q.Quiet, vg.Point{X: edge, Y: y}, vg.Point{X: edge, Y: y - agreementPlot})
	for _, t := range up.ticks(14) {
		at := up.at(t.Value)
		q.line(0.7, q.Quiet, vg.Point{X: edge - 3, Y: at}, vg.Point{X: edge, Y: at})
		q.write(edge-6, at-q.Small*0.35, fromRight, q.small(), t.Label)
	}
	names := [3]string{"lower limit", "bias", "upper limit"}
	free := y - agreementPlot - 11 // a name is written above the one before
	for i, l := range p.Lines {
		at := up.at(l.At)
		ends := []vg.Point{{X: edge, Y: at}, {X: end, Y: at}}
		if i == 1 {
			q.line(1.2, q.Ink, ends...)
		} else {
			q.dashed(1.2, q.Ink, ends...)
		}
		// Intervals stand side by side, because those of few pairs overlap.
		q.drawUpright(up, beside, beside.Min.X+vg.Length(i)*10+8, l.CI, false)
		free = max(free+11, at-q.Small*0.35)
		q.write(end+5, free, fromLeft, q.small(), names[i])
	}
	for _, pair := range p.Pairs {
		q.drawRing(vg.Point{X: across.at(pair[0]), Y: up.at(pair[1])})
	}
	m.Low, m.High = "", ""
	q.horizontalAxis(across, y-agreementPlot, m)
}

func (p *Agreement) legend() legend {
	return legend{
		{10, func(q canvas, at vg.Point) { q.drawRing(vg.Point{X: at.X + 5, Y: at.Y}) }, p.Of},
		{10, func(q canvas, at vg.Point) {
			box := vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 4}, Max: vg.Point{X: at.X + 10, Y: at.Y + 4}}
			q.drawUpright(axis{0, 1, box.Min.Y, box.Max.Y}, box, at.X+5, [2]float64{0, 1}, false)
		}, "95 % interval of a line"},
	}
}

// Describe implements Picture.
func (p *Agreement) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Agreement: %s.", p.Measure.Title)
	for _, panel := range p.Panels {
		at := func(i int) string { return p.Measure.Fine(panel.Lines[i].At / p.Measure.Scale) }
		fmt.Fprintf(&b, " %s, %s: bias %s, 95 %% limits of agreement %s and %s, %s.", panel.Title, panel.What, at(1), at(0), at(2), words.Count(len(panel.Pairs), "pair", "pairs"))
	}
	return b.String()
}
