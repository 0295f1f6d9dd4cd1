package plots

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/device"
	"aplomb/plots/words"
)

// Shoes compares the shoes on one foot. Each measure has a panel. It has a row for
// each shoe, with a mark for each relevé, their mean with its 95 % interval, and
// the kern as the target. Marks that would coincide are spread (see swarm). The differences
// between shoes are below, on an axis of their own. The pictures of both feet have the same
// axes for each measure.
type Shoes struct {
	Theme  Theme
	Foot   device.Foot
	Panels []ShoesPanel
	Bare   bool // without a legend
}

// ShoesPanel is one measure. Its numbers are in display units.
type ShoesPanel struct {
	Measure words.Display
	Rows    []ShoesRow
	Diffs   []ShoesDiff

	all, diffs valueRange // that the axes have to show: of both feet
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

// ShoesDiff is the difference between two shoes. Its numbers are in display units.
type ShoesDiff struct {
	Label   string
	Numbers string // the difference and its interval, in words
	Wording string
	Base    float64 // from which the difference is drawn
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
			panel.diffs = feet[device.Left].differences().union(feet[device.Right].differences())
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
	for _, d := range slices.Concat(c.Differences, c.Between) {
		if d.Foot == foot && d.Measure == s.Measure {
			panel.Diffs = append(panel.Diffs, ShoesDiff{
				Label:   d.To + " − " + d.From,
				Numbers: s.Difference(d.Difference, d.CI95),
				Wording: d.Wording.Judged(d.CI95),
				Diff:    d.Difference * s.Scale,
				CI:      scaled(d.CI95, s.Scale),
			})
		}
	}
	return panel
}

const (
	panelWide   = 10 * vg.Centimeter
	panelMargin = 8
	panelHead   = 14
	panelGap    = 13
	rowLabel    = 14
	rowDots     = 13 // of marks that need no more to be spread
	rowDotsMost = 28
	rowMean     = 9
	shoesDiff   = 11 + 11 + 12
	diffTall    = 22 + 7 + 7 // of a difference on an axis of its own
	diffsGap    = 6
	pictureHead = 20
)

// Size implements Picture.
func (p *Shoes) Size() (width, height vg.Length) {
	h := vg.Length(2*panelMargin + pictureHead)
	for _, panel := range p.Panels {
		h += panel.height() + panelGap
	}
	if p.Bare {
		return panelWide, h
	}
	return panelWide, h + p.legend().height(p.Theme.small(), panelWide-2*panelMargin)
}

func (p *ShoesPanel) height() vg.Length {
	h := vg.Length(panelHead + axisBlock)
	for i := range p.Rows {
		h += p.rowHeight(i)
	}
	if len(p.Diffs) > 0 {
		h += diffsGap + vg.Length(len(p.Diffs))*diffTall + axisBlock
	}
	return h
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
	if !p.Bare {
		p.legend().draw(q, left, y, right-left)
	}
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
	q.horizontalAxis(a, y, p.Measure)
	if len(p.Diffs) == 0 {
		return
	}
	y -= axisBlock + diffsGap
	own := p.diffs.axis(left+6, right-6)
	for _, d := range p.Diffs {
		d.drawOn(q, own, left, right, y)
		y -= diffTall
	}
	q.horizontalAxis(own, y, words.Display{})
}

// drawOn draws the difference on an axis of differences, in words above its interval.
func (d *ShoesDiff) drawOn(q canvas, a axis, left, right, y vg.Length) {
	said := d.Label + ": " + d.Numbers
	q.write(left, y-10, fromLeft, style{q.Text, true, q.Ink}, fit(said, style{q.Text, true, q.Ink}, right-left))
	q.write(left, y-21, fromLeft, q.text(), fit(d.Wording, q.text(), right-left))
	zero, at := a.at(0), y-22-7
	q.dashed(0.8, q.Quiet, vg.Point{X: zero, Y: at + 6}, vg.Point{X: zero, Y: y - diffTall})
	if d.CI != nil {
		q.drawInterval(a, at, q.Ink, *d.CI)
	}
	q.drawRing(vg.Point{X: a.at(d.Diff), Y: at})
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
	s.includeIntervals(intervals)
	return s
}

// differences returns the range of the differences, with 0.
func (p *ShoesPanel) differences() valueRange {
	s := emptyRange()
	for _, d := range p.Diffs {
		s.include(0, d.Diff)
		if d.CI != nil {
			s.include(d.CI[:]...)
		}
	}
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
	return rowsLegend(marks[:min(len(marks), 3)], true, hasTarget, hasDiffs, "")
}

// rowsLegend explains rows of marks. from is what differences are drawn from, "" for 0.
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
		l = append(l, kernBandSample(words.Kern))
	}
	if diffs {
		l = append(l, differenceSamples("difference", strings.TrimSuffix("no difference from "+from, " from "))...)
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
