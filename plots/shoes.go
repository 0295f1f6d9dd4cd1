package plots

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/device"
	"aplomb/plots/words"
)

// Shoes compares the shoes on one foot. Each measure has a panel. It has a row for
// each shoe, with a mark for each relevé, their mean with its 95 % interval, and
// the kern as the target. Marks that would coincide are spread (see swarm). The pictures
// of both feet have one axis for each measure. Below the rows are the differences between shoes, each
// drawn from the mean of the first shoe.
type Shoes struct {
	Theme  Theme
	Foot   device.Foot
	Panels []ShoesPanel
}

// ShoesPanel is one measure. Its numbers are in display units.
type ShoesPanel struct {
	Measure words.Display
	Rows    []ShoesRow
	Diffs   []ShoesDiff

	all valueRange // that the axis has to show: of both feet
}

// ShoesRow is one shoe.
type ShoesRow struct {
	Label  string
	Number string // mean and half-width of the interval, in words
	Mark   Mark
	Values []float64 // one a relevé, in the order of recording
	Mean   float64
	CI     *[2]float64 // 95 % interval of Mean; nil where there is none
	Target *[2]float64 // extent of the kern; nil for a measure without a target
}

// ShoesDiff is the difference of one shoe from the first. Its numbers are in
// display units.
type ShoesDiff struct {
	Label   string
	Numbers string // the difference and its interval, in words
	Wording string
	Base    float64 // mean of the first shoe, from which the difference is drawn
	Diff    float64
	CI      *[2]float64 // 95 % interval of Diff; nil where there is none
	Target  *[2]float64 // differences that would bring the load into the kern; nil where that is not drawn
}

// NewShoes returns the picture of one foot of a comparison.
func NewShoes(c *compare.Comparison, foot device.Foot) *Shoes {
	p := &Shoes{Theme: DefaultTheme(), Foot: foot}
	for _, m := range MainMeasures {
		var feet [2]ShoesPanel
		for _, f := range device.Feet {
			feet[f] = shoesPanel(&p.Theme, c, f, words.DisplayOf(m))
		}
		if panel := feet[foot]; len(panel.Rows) > 0 {
			panel.all = feet[device.Left].values().union(feet[device.Right].values())
			p.Panels = append(p.Panels, panel)
		}
	}
	return p
}

func shoesPanel(t *Theme, c *compare.Comparison, foot device.Foot, s words.Display) ShoesPanel {
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
			Label:  g.title(),
			Number: s.PlusMinus(m.Mean, m.CI95),
			Mark:   t.markOf(g.shoe),
			Values: releveValues(f.Releves, s),
			Mean:   m.Mean * s.Scale,
			CI:     scaled(m.CI95, s.Scale),
			Target: kernRange(f.Platform, s.Measure),
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
	rowDots     = 13 // of marks that need no more to be spread
	rowDotsMost = 28
	rowMean     = 9
	shoesDiff   = 11 + 11 + 12
	pictureHead = 20
)

// Size implements Picture.
func (p *Shoes) Size() (width, height vg.Length) {
	h := vg.Length(2*panelMargin + pictureHead)
	for _, panel := range p.Panels {
		h += panel.height() + panelGap
	}
	return panelWide, h + p.legend().height(p.Theme.small(), panelWide-2*panelMargin)
}

func (p *ShoesPanel) height() vg.Length {
	h := vg.Length(panelHead + axisBlock)
	for i := range p.Rows {
		h += p.rowHeight(i)
	}
	return h + vg.Length(len(p.Diffs))*shoesDiff
}

// dotsHeight returns the height that the marks of a row need to be spread.
func (p *ShoesPanel) dotsHeight(row int) vg.Length {
	a := p.axis(0, panelWide-2*panelMargin-12)
	at := make([]vg.Length, len(p.Rows[row].Values))
	for i, v := range p.Rows[row].Values {
		at[i] = a.at(v)
	}
	most := vg.Length(0)
	for _, up := range swarm(at, 2*markSize, vg.Length(math.Inf(1))) {
		most = max(most, up, -up)
	}
	return max(rowDots, min(rowDotsMost, 2*most+5))
}

// rowHeight returns the height of a row.
func (p *ShoesPanel) rowHeight(row int) vg.Length {
	return rowLabel + p.dotsHeight(row) + rowMean + 1
}

// Draw implements Picture.
func (p *Shoes) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	q.write(left, y-10, fromLeft, style{p.Theme.Strong, true, p.Theme.Quiet}, p.Foot.String()+" foot")
	y -= pictureHead
	for _, panel := range p.Panels {
		panel.draw(q, left, right, y)
		y -= panel.height() + panelGap
	}
	p.legend().draw(q, left, y, right-left)
}

func (p *ShoesPanel) draw(q canvas, left, right, y vg.Length) {
	a := p.axis(left+6, right-6)
	q.panelTitle(p.Measure, left, right, y)
	y -= panelHead
	for i, row := range p.Rows {
		q.kernBand(a, row.Target, y-p.rowHeight(i)+1, y-rowLabel)
		row.draw(q, a, left, right, y, p.dotsHeight(i))
		y -= p.rowHeight(i)
	}
	for _, d := range p.Diffs {
		d.draw(q, a, left, right, y, p.meanHeight(d, y))
		y -= shoesDiff
	}
	q.horizontalAxis(a, y, p.Measure)
}

// meanHeight returns how far above y the line of no difference begins, which is
// at the mean of the first shoe.
func (p *ShoesPanel) meanHeight(d ShoesDiff, y vg.Length) vg.Length {
	for i, row := range p.Rows {
		if row.Mean == d.Base {
			up := -rowLabel - p.dotsHeight(i) - rowMean/2
			for below := i; below < len(p.Rows); below++ {
				up += p.rowHeight(below)
			}
			return up
		}
	}
	return 0
}

func (p *ShoesPanel) axis(from, to vg.Length) axis { return p.all.axisOf(p.Measure, from, to) }

// values returns the range of what the panel shows.
func (p *ShoesPanel) values() valueRange {
	s := emptyRange()
	var intervals [][2]float64
	for _, row := range p.Rows {
		s.include(row.Values...)
		s.include(row.Mean)
		if row.Target != nil {
			s.include(row.Target[:]...)
		}
		if row.CI != nil {
			intervals = append(intervals, *row.CI)
		}
	}
	for _, d := range p.Diffs {
		s.include(d.Base, d.Base+d.Diff)
		if d.CI != nil {
			intervals = append(intervals, [2]float64{d.Base + d.CI[0], d.Base + d.CI[1]})
		}
	}
	s.includeIntervals(intervals)
	return s
}

func (q canvas) panelTitle(s words.Display, left, right, y vg.Length) {
	title := s.Title
	if s.Unit != "" {
		title += ", " + s.Unit
	}
	bold := style{q.Text, true, q.Ink}
	q.write(left, y-10, fromLeft, bold, fit(title, bold, right-left))
}

func (r *ShoesRow) draw(q canvas, a axis, left, right, y, dots vg.Length) {
	number := q.text().width(r.Number)
	q.write(left, y-10, fromLeft, q.text(), fit(r.Label, q.text(), right-left-number-8))
	q.write(right, y-10, fromRight, q.text(), r.Number)
	y -= rowLabel
	q.drawSwarm(r.Mark, a, r.Values, y-dots/2, dots-5)
	y -= dots + rowMean/2
	q.drawMean(a, y, r.Mean, r.CI)
}

// markSize is the half-size of the mark of a relevé in a row.
const markSize = 2.2

// drawSwarm draws a mark at each value, spread about height y within tall points.
func (q canvas) drawSwarm(m Mark, a axis, values []float64, y, tall vg.Length) {
	at := make([]vg.Length, len(values))
	for i, v := range values {
		at[i] = a.at(v)
	}
	up := swarm(at, 2*markSize, tall)
	for i, x := range at {
		q.drawMark(m, vg.Point{X: x, Y: y + up[i]}, markSize)
	}
}

func (d *ShoesDiff) draw(q canvas, a axis, left, right, y, up vg.Length) {
	x := a.at(d.Base)
	q.dashed(0.8, q.Quiet, vg.Point{X: x, Y: y + up}, vg.Point{X: x, Y: y - shoesDiff})
	bold := style{q.Text, true, q.Ink}
	numbers := ": " + d.Numbers
	label := fit(d.Label, q.text(), right-left-q.text().width(numbers))
	q.writeOnPaper(left, y-10, q.text(), label+numbers, right-left)
	q.writeOnPaper(left, y-21, bold, d.Wording, right-left)
	y -= 22 + 6
	q.kernBand(a, d.Target, y-5, y+5)
	if d.Target != nil {
		q.dashed(0.8, q.Quiet, vg.Point{X: x, Y: y + 5}, vg.Point{X: x, Y: y - 5})
	}
	if d.CI != nil {
		q.drawInterval(a, y, q.Ink, *shifted(d.CI, d.Base))
	}
	q.drawRing(vg.Point{X: a.at(d.Base + d.Diff), Y: y})
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
	return rowsLegend(marks[:min(len(marks), 3)], true, hasTarget, hasDiffs, "the first shoe")
}

// rowsLegend explains rows of marks. from is what differences are drawn from.
func rowsLegend(marks []Mark, intervals, target, diffs bool, from string) legend {
	if len(marks) == 0 {
		return nil
	}
	mean, meanSample, ci := "mean", vg.Length(6), (*[2]float64)(nil)
	if intervals {
		mean, meanSample, ci = "mean, 95 % interval", 22, &[2]float64{0, 1}
	}
	l := legend{
		marksSample(marks, markSize),
		{meanSample, func(q canvas, at vg.Point) {
			q.drawMean(axis{0, 1, at.X, at.X + meanSample}, at.Y, 0.5, ci)
		}, mean},
	}
	if target {
		l = append(l, kernBandSample("kern, the target"))
	}
	if diffs {
		l = append(l, differenceSamples("difference", "no difference from "+from)...)
	}
	return l
}

// kernBandSample explains the band of the kern along an axis.
func kernBandSample(meaning string) legendItem {
	return legendItem{14, func(q canvas, at vg.Point) {
		q.kernBand(axis{0, 1, at.X, at.X + 14}, &[2]float64{0, 1}, at.Y-5, at.Y+5)
	}, meaning}
}

// differenceSamples explains the ring of a difference and the line of no difference.
func differenceSamples(difference, none string) legend {
	return legend{
		{22, func(q canvas, at vg.Point) {
			q.drawInterval(axis{0, 1, at.X, at.X + 22}, at.Y, q.Ink, [2]float64{0, 1})
			q.drawRing(vg.Point{X: at.X + 11, Y: at.Y})
		}, difference},
		{4, func(q canvas, at vg.Point) {
			q.dashed(0.8, q.Quiet, vg.Point{X: at.X + 2, Y: at.Y - 6}, vg.Point{X: at.X + 2, Y: at.Y + 6})
		}, none},
	}
}

// marksSample explains the marks of relevés, of half-size r.
func marksSample(marks []Mark, r vg.Length) legendItem {
	return legendItem{vg.Length(10 * len(marks)), func(q canvas, at vg.Point) {
		for i, m := range marks {
			q.drawMark(m, vg.Point{X: at.X + 5 + vg.Length(10*i), Y: at.Y}, r)
		}
	}, "one relevé"}
}

// Describe implements Picture.
func (p *Shoes) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Shoe against shoe, %s foot.", p.Foot)
	for _, panel := range p.Panels {
		for _, d := range panel.Diffs {
			fmt.Fprintf(&b, " %s, %s: %s.", panel.Measure.Title, d.Label, strings.Join(nonEmpty(d.Numbers, d.Wording), ", "))
		}
	}
	return b.String()
}
