package plots

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/device"
)

// Shoes sets shoe against shoe on one foot. Each measure has a panel: a row a
// shoe with every relevé as a mark, their mean and its 95 % interval, and the
// kern as the target; below them each difference, drawn from where the first
// shoe's mean stands.
type Shoes struct {
	Look   Look
	Foot   device.Foot
	Panels []ShoesPanel
}

// ShoesPanel is one measure. Its numbers are in shown units.
type ShoesPanel struct {
	Measure Shown
	Rows    []ShoesRow
	Diffs   []ShoesDiff
}

// ShoesRow is one shoe.
type ShoesRow struct {
	Label  string
	Number string // mean and interval
	Mark   Mark
	Values []float64 // in order of recording
	Mean   float64
	CI     *[2]float64
	Target *[2]float64
}

// ShoesDiff is the difference of one shoe from the first.
type ShoesDiff struct {
	Label   string
	Numbers string
	Wording string
	Base    float64 // where no difference would be drawn
	Diff    float64
	CI      *[2]float64
}

// NewShoes takes one foot of a comparison.
func NewShoes(c *compare.Comparison, foot device.Foot) *Shoes {
	p := &Shoes{Look: DefaultLook(), Foot: foot}
	for _, name := range MainMeasures {
		if panel := shoesPanel(&p.Look, c, foot, Show(name)); len(panel.Rows) > 0 {
			p.Panels = append(p.Panels, panel)
		}
	}
	return p
}

func shoesPanel(l *Look, c *compare.Comparison, foot device.Foot, s Shown) ShoesPanel {
	panel := ShoesPanel{Measure: s}
	for _, g := range groups(c) {
		f := g.feet[foot]
		if f == nil {
			continue
		}
		m, ok := f.Measures[s.Measure]
		if !ok {
			continue
		}
		panel.Rows = append(panel.Rows, ShoesRow{
			Label:  g.name(),
			Number: s.PlusMinus(m),
			Mark:   l.mark(g.shoe),
			Values: values(f.Releves, s),
			Mean:   m.Mean * s.Scale,
			CI:     scaled(m.CI95, s.Scale),
			Target: zone(f.Platform, s.Measure),
		})
	}
	for _, d := range c.Differences {
		if d.Foot == foot && d.Measure == s.Measure {
			panel.Diffs = append(panel.Diffs, ShoesDiff{
				Label:   d.To + " against " + d.From,
				Numbers: s.Difference(d.Difference, d.CI95),
				Wording: string(d.Wording),
				Base:    d.MeanFrom * s.Scale,
				Diff:    d.Difference * s.Scale,
				CI:      scaled(d.CI95, s.Scale),
			})
		}
	}
	return panel
}

const (
	panelWide   = 8 * vg.Centimeter
	panelMargin = 8
	panelHead   = 14
	panelGap    = 13
	rowLabel    = 12
	rowDots     = 13
	rowMean     = 9
	shoesRow    = rowLabel + rowDots + rowMean + 1
	shoesDiff   = 11 + 11 + 12
	pictureHead = 20
)

// Size implements Picture.
func (p *Shoes) Size() (width, height vg.Length) {
	h := vg.Length(2*panelMargin + pictureHead)
	for _, panel := range p.Panels {
		h += panel.height() + panelGap
	}
	return panelWide, h + p.legend().height(p.Look.small(), panelWide-2*panelMargin)
}

func (p *ShoesPanel) height() vg.Length {
	return panelHead + vg.Length(len(p.Rows))*shoesRow + vg.Length(len(p.Diffs))*shoesDiff + axisBlock
}

// Draw implements Picture.
func (p *Shoes) Draw(c draw.Canvas) {
	q := newPen(c, &p.Look)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	q.write(left, y-10, fromLeft, style{p.Look.Strong, true, p.Look.Quiet}, p.Foot.String()+" foot")
	y -= pictureHead
	for _, panel := range p.Panels {
		panel.draw(q, left, right, y)
		y -= panel.height() + panelGap
	}
	p.legend().draw(q, left, y, right-left)
}

func (p *ShoesPanel) draw(q pen, left, right, y vg.Length) {
	a := p.axis(left+6, right-6)
	q.panelTitle(p.Measure, left, right, y)
	y -= panelHead
	for _, row := range p.Rows {
		q.zoneBand(a, row.Target, y-shoesRow+1, y-rowLabel)
		row.draw(q, a, left, right, y)
		y -= shoesRow
	}
	for _, d := range p.Diffs {
		d.draw(q, a, left, right, y, p.meanHeight(d, y))
		y -= shoesDiff
	}
	q.valueAxis(a, y, p.Measure)
}

// meanHeight returns how far above y the line of no difference begins: at the mean it stands for.
func (p *ShoesPanel) meanHeight(d ShoesDiff, y vg.Length) vg.Length {
	for i, row := range p.Rows {
		if row.Mean == d.Base {
			return vg.Length(len(p.Rows)-i)*shoesRow - rowLabel - rowDots - rowMean/2
		}
	}
	return 0
}

func (p *ShoesPanel) axis(from, to vg.Length) axis {
	s := newSpread()
	var intervals [][2]float64
	for _, row := range p.Rows {
		s.hold(row.Values...)
		s.hold(row.Mean)
		if row.Target != nil {
			s.hold(row.Target[:]...)
		}
		if row.CI != nil {
			intervals = append(intervals, *row.CI)
		}
	}
	for _, d := range p.Diffs {
		s.hold(d.Base, d.Base+d.Diff)
		if d.CI != nil {
			intervals = append(intervals, [2]float64{d.Base + d.CI[0], d.Base + d.CI[1]})
		}
	}
	s.stretch(intervals)
	return s.axis(from, to)
}

func (q pen) panelTitle(s Shown, left, right, y vg.Length) {
	title := s.Title
	if s.Unit != "" {
		title += ", " + s.Unit
	}
	bold := style{q.Text, true, q.Ink}
	q.write(left, y-10, fromLeft, bold, fit(title, bold, right-left))
}

func (r *ShoesRow) draw(q pen, a axis, left, right, y vg.Length) {
	number := q.text().width(r.Number)
	q.write(left, y-10, fromLeft, q.text(), fit(r.Label, q.text(), right-left-number-8))
	q.write(right, y-10, fromRight, q.text(), r.Number)
	y -= rowLabel
	// Marks go down in the order of recording, so that equal values stay apart.
	for i, v := range r.Values {
		down := vg.Length(0.5)
		if n := len(r.Values); n > 1 {
			down = vg.Length(i) / vg.Length(n-1)
		}
		q.mark(r.Mark, vg.Point{X: a.at(v), Y: y - 3.5 - down*(rowDots-6)}, 2.2)
	}
	y -= rowDots + rowMean/2
	q.meanAndInterval(a, y, r.Mean, r.CI)
}

// meanAndInterval draws a mean as an upright stroke on its interval.
func (q pen) meanAndInterval(a axis, y vg.Length, mean float64, ci *[2]float64) {
	if ci != nil {
		q.interval(a, y, q.Ink, *ci)
	}
	x := a.at(mean)
	q.box(vg.Rectangle{Min: vg.Point{X: x - 1.5, Y: y - 4}, Max: vg.Point{X: x + 1.5, Y: y + 4}}, q.Ink)
}

func (d *ShoesDiff) draw(q pen, a axis, left, right, y, up vg.Length) {
	x := a.at(d.Base)
	q.dashed(0.8, q.Quiet, vg.Point{X: x, Y: y + up}, vg.Point{X: x, Y: y - shoesDiff})
	bold := style{q.Text, true, q.Ink}
	numbers := ": " + d.Numbers
	label := fit(d.Label, q.text(), right-left-q.text().width(numbers))
	q.behind(left, y-10, q.text(), label+numbers, right-left)
	q.behind(left, y-21, bold, d.Wording, right-left)
	y -= 22 + 6
	if d.CI != nil {
		q.interval(a, y, q.Ink, *shifted(d.CI, d.Base))
	}
	q.ring(vg.Point{X: a.at(d.Base + d.Diff), Y: y})
}

// behind writes a line of text on paper, over whatever lines run there.
func (q pen) behind(left, y vg.Length, s style, text string, wide vg.Length) {
	text = fit(text, s, wide)
	q.box(vg.Rectangle{Min: vg.Point{X: left, Y: y - 2}, Max: vg.Point{X: left + s.width(text) + 2, Y: y + 8}}, q.Paper)
	q.write(left, y, fromLeft, s, text)
}

// ring marks a difference.
func (q pen) ring(at vg.Point) {
	path := Disc.path(at, 3)
	q.SetColor(q.Paper)
	q.Fill(path)
	q.SetLineStyle(draw.LineStyle{Color: q.Ink, Width: 1.5})
	q.Stroke(path)
}

func shifted(ci *[2]float64, by float64) *[2]float64 {
	return &[2]float64{ci[0] + by, ci[1] + by}
}

func (p *Shoes) legend() legend {
	var marks []Mark
	hasDiffs, hasTarget := false, false
	for _, panel := range p.Panels {
		for _, row := range panel.Rows {
			hasTarget = hasTarget || row.Target != nil
		}
		if len(panel.Rows) > len(marks) {
			marks = nil
			for _, row := range panel.Rows {
				marks = append(marks, row.Mark)
			}
		}
		hasDiffs = hasDiffs || len(panel.Diffs) > 0
	}
	return rowsLegend(marks[:min(len(marks), 3)], "mean, 95 % interval", hasTarget, hasDiffs, "the first shoe")
}

// rowsLegend explains rows of marks.
func rowsLegend(marks []Mark, mean string, target, diffs bool, from string) legend {
	if len(marks) == 0 {
		return nil
	}
	meanSample, ci := vg.Length(22), &[2]float64{0, 1}
	if mean == "mean" {
		meanSample, ci = 6, nil
	}
	l := legend{
		{vg.Length(10 * len(marks)), func(q pen, at vg.Point) {
			for i, m := range marks {
				q.mark(m, vg.Point{X: at.X + 5 + vg.Length(10*i), Y: at.Y}, 2.2)
			}
		}, "one relevé"},
		{meanSample, func(q pen, at vg.Point) {
			q.meanAndInterval(axis{0, 1, at.X, at.X + meanSample}, at.Y, 0.5, ci)
		}, mean},
	}
	if target {
		l = append(l, legendItem{14, func(q pen, at vg.Point) {
			q.zoneBand(axis{0, 1, at.X, at.X + 14}, &[2]float64{0, 1}, at.Y-5, at.Y+5)
		}, "kern, the target"})
	}
	if diffs {
		l = append(l, legendItem{22, func(q pen, at vg.Point) {
			q.interval(axis{0, 1, at.X, at.X + 22}, at.Y, q.Ink, [2]float64{0, 1})
			q.ring(vg.Point{X: at.X + 11, Y: at.Y})
		}, "difference"}, legendItem{4, func(q pen, at vg.Point) {
			q.dashed(0.8, q.Quiet, vg.Point{X: at.X + 2, Y: at.Y - 6}, vg.Point{X: at.X + 2, Y: at.Y + 6})
		}, "no difference from " + from})
	}
	return l
}

// Describe implements Picture.
func (p *Shoes) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Shoe against shoe, %s foot.", p.Foot)
	for _, panel := range p.Panels {
		for _, d := range panel.Diffs {
			fmt.Fprintf(&b, " %s, %s: %s, %s.", panel.Measure.Title, d.Label, d.Numbers, d.Wording)
		}
	}
	return b.String()
}
