package plots

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/device"
	"aplomb/plots/words"
)

// Feet compares left and right in one shoe. Each measure has a panel, in which a
// line joins the marks of both feet of one relevé. Marks of a foot that would coincide are
// spread (see swarm). The pictures of all shoes have one axis for each measure.
type Feet struct {
	Theme  Theme
	Shoe   string
	Mark   Mark
	Panels []FeetPanel
}

// FeetPanel is one measure. Its numbers are in display units.
type FeetPanel struct {
	Measure words.Display
	Pairs   [][2]float64   // left and right of every relevé
	Means   [2]float64     // by foot
	Targets [2]*[2]float64 // extent of the kern, by foot; nil for a measure without a target
	Numbers string         // the difference and its interval, in words
	Wording string
	Diff    float64     // left − right
	CI      *[2]float64 // 95 % interval of Diff; nil where there is none

	all valueRange // that the axis has to show: of all shoes
}

// NewFeet returns the picture of one shoe of a comparison, given by its code.
func NewFeet(c *compare.Comparison, shoe string) *Feet {
	p := feetOf(c, shoe)
	for i := range p.Panels {
		p.Panels[i].all = p.Panels[i].values()
	}
	for _, other := range shoeCodes(c) {
		for _, q := range feetOf(c, other).Panels {
			for i := range p.Panels {
				if p.Panels[i].Measure.Measure == q.Measure.Measure {
					p.Panels[i].all = p.Panels[i].all.union(q.values())
				}
			}
		}
	}
	return p
}

// feetOf returns the picture of one shoe, without the ranges of its axes.
func feetOf(c *compare.Comparison, shoe string) *Feet {
	p := &Feet{Theme: DefaultTheme(), Shoe: shoe}
	var targets [2]*compare.ShoeFoot
	for _, g := range groups(c) {
		if g.code == shoe {
			p.Mark = p.Theme.markOf(g.shoe)
			for _, foot := range device.Feet {
				if targets[foot] == nil {
					targets[foot] = g.feet[foot]
				}
			}
		}
	}
	for _, m := range MainMeasures {
		for _, d := range c.Feet {
			if d.Shoe != shoe || d.Measure != m {
				continue
			}
			s := words.DisplayOf(m)
			panel := FeetPanel{
				Measure: s,
				Means:   [2]float64{d.Left * s.Scale, d.Right * s.Scale},
				Numbers: s.Difference(d.Difference, d.CI95),
				Wording: string(d.Wording),
				Diff:    d.Difference * s.Scale,
				CI:      scaled(d.CI95, s.Scale),
			}
			for _, pair := range d.Pairs {
				panel.Pairs = append(panel.Pairs, [2]float64{pair[0] * s.Scale, pair[1] * s.Scale})
			}
			for _, foot := range device.Feet {
				if targets[foot] != nil {
					panel.Targets[foot] = kernRange(targets[foot].Platform, m)
				}
			}
			p.Panels = append(p.Panels, panel)
		}
	}
	return p
}

const (
	feetGutter = 30 // for the names of the feet
	feetRow    = 22
	feetSlope  = 22 // between the marks of the left foot and those of the right foot
	feetSpread = 9  // of the marks of a foot
	feetPanel  = panelHead + 2*feetRow + feetSlope + shoesDiff + axisBlock
)

// Size implements Picture.
func (p *Feet) Size() (width, height vg.Length) {
	return panelWide, 2*panelMargin + pictureHead + vg.Length(len(p.Panels))*(feetPanel+panelGap) +
		p.legend().height(p.Theme.small(), panelWide-2*panelMargin)
}

func (p *Feet) legend() legend {
	return rowsLegend([]Mark{p.Mark}, false, true, true, "the right foot")
}

// Draw implements Picture.
func (p *Feet) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	title := style{p.Theme.Strong, true, p.Theme.Quiet}
	q.write(left, y-10, fromLeft, title, fit("shoe "+p.Shoe, title, right-left))
	y -= pictureHead
	for _, panel := range p.Panels {
		panel.draw(q, p.Mark, left, right, y)
		y -= feetPanel + panelGap
	}
	p.legend().draw(q, left, y, right-left)
}

func (p *FeetPanel) axis(from, to vg.Length) axis { return p.all.axisOf(p.Measure, from, to) }

// values returns the range of what the panel shows.
func (p *FeetPanel) values() valueRange {
	s := emptyRange()
	s.include(p.Means[:]...)
	for _, pair := range p.Pairs {
		s.include(pair[:]...)
	}
	for _, t := range p.Targets {
		if t != nil {
			s.include(t[:]...)
		}
	}
	if p.CI != nil {
		s.includeIntervals([][2]float64{*shifted(p.CI, p.Means[1])})
	}
	return s
}

func (p *FeetPanel) draw(q canvas, m Mark, left, right, y vg.Length) {
	a := p.axis(left+feetGutter+6, right-6)
	q.panelTitle(p.Measure, left, right, y)
	y -= panelHead
	height := [2]vg.Length{y - feetRow + 5, y - feetRow - feetSlope - 5} // of the marks
	mean := [2]vg.Length{height[0] + 11, height[1] - 11}
	for _, foot := range device.Feet {
		q.kernBand(a, p.Targets[foot], min(height[foot], mean[foot])-5, max(height[foot], mean[foot])+5)
		q.write(left, height[foot]-3, fromLeft, q.text(), foot.String())
	}
	base := a.at(p.Means[1])
	diffTop := y - 2*feetRow - feetSlope
	q.dashed(0.8, q.Quiet, vg.Point{X: base, Y: mean[1]}, vg.Point{X: base, Y: diffTop - shoesDiff})
	marks := make([][2]vg.Point, len(p.Pairs))
	for _, foot := range device.Feet {
		at := make([]vg.Length, len(p.Pairs))
		for i, pair := range p.Pairs {
			at[i] = a.at(pair[foot])
		}
		for i, up := range swarm(at, 2*markSize, feetSpread) {
			marks[i][foot] = vg.Point{X: at[i], Y: height[foot] + up}
		}
	}
	for _, pair := range marks {
		q.line(0.7, m.Ink, pair[0], pair[1])
	}
	for _, pair := range marks {
		for _, at := range pair {
			q.drawMark(m, at, markSize)
		}
	}
	for _, foot := range device.Feet {
		q.drawMean(a, mean[foot], p.Means[foot], nil)
	}
	d := ShoesDiff{Label: "left − right", Numbers: p.Numbers, Wording: p.Wording, Base: p.Means[1], Diff: p.Diff, CI: p.CI}
	d.draw(q, a, left, right, diffTop, 0)
	q.horizontalAxis(a, diffTop-shoesDiff, p.Measure)
}

// Describe implements Picture.
func (p *Feet) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Left against right in shoe %s.", p.Shoe)
	for _, panel := range p.Panels {
		fmt.Fprintf(&b, " %s, left − right: %s.", panel.Measure.Title, strings.Join(nonEmpty(panel.Numbers, panel.Wording), ", "))
	}
	return b.String()
}
