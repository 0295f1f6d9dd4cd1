package plots

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/device"
)

// Feet sets left against right in one shoe: in each panel, one a measure, the
// same relevé of both feet is joined by a line.
type Feet struct {
	Look   Look
	Shoe   string
	Mark   Mark
	Panels []FeetPanel
}

// FeetPanel is one measure. Its numbers are in shown units.
type FeetPanel struct {
	Measure Shown
	Pairs   [][2]float64 // left and right of every relevé
	Means   [2]float64   // by foot
	Targets [2]*[2]float64
	Numbers string
	Wording string
	Diff    float64
	CI      *[2]float64
}

// NewFeet takes one shoe of a comparison.
func NewFeet(c *compare.Comparison, shoe string) *Feet {
	p := &Feet{Look: DefaultLook(), Shoe: shoe}
	var targets [2]*compare.ShoeFoot
	for _, g := range groups(c) {
		if g.code == shoe {
			p.Mark = p.Look.mark(g.shoe)
			for _, foot := range device.Feet {
				if targets[foot] == nil {
					targets[foot] = g.feet[foot]
				}
			}
		}
	}
	for _, name := range MainMeasures {
		for _, d := range c.Feet {
			if d.Shoe != shoe || d.Measure != name {
				continue
			}
			s := Show(name)
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
					panel.Targets[foot] = zone(targets[foot].Platform, name)
				}
			}
			p.Panels = append(p.Panels, panel)
		}
	}
	return p
}

const (
	feetGutter = 30 // for the names of the feet
	feetRow    = 20
	feetSlope  = 18 // from the left foot's marks to the right's
	feetPanel  = panelHead + 2*feetRow + feetSlope + shoesDiff + axisBlock
)

// Size implements Picture.
func (p *Feet) Size() (width, height vg.Length) {
	return panelWide, 2*panelMargin + pictureHead + vg.Length(len(p.Panels))*(feetPanel+panelGap) +
		p.legend().height(p.Look.small(), panelWide-2*panelMargin)
}

func (p *Feet) legend() legend {
	return rowsLegend([]Mark{p.Mark}, "mean", true, true, "the right foot")
}

// Draw implements Picture.
func (p *Feet) Draw(c draw.Canvas) {
	q := newPen(c, &p.Look)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	title := style{p.Look.Strong, true, p.Look.Quiet}
	q.write(left, y-10, fromLeft, title, fit("shoe "+p.Shoe, title, right-left))
	y -= pictureHead
	for _, panel := range p.Panels {
		panel.draw(q, p.Mark, left, right, y)
		y -= feetPanel + panelGap
	}
	p.legend().draw(q, left, y, right-left)
}

func (p *FeetPanel) axis(from, to vg.Length) axis {
	s := newSpread()
	s.hold(p.Means[:]...)
	for _, pair := range p.Pairs {
		s.hold(pair[:]...)
	}
	for _, t := range p.Targets {
		if t != nil {
			s.hold(t[:]...)
		}
	}
	if p.CI != nil {
		s.stretch([][2]float64{*shifted(p.CI, p.Means[1])})
	}
	return s.axis(from, to)
}

func (p *FeetPanel) draw(q pen, m Mark, left, right, y vg.Length) {
	a := p.axis(left+feetGutter+6, right-6)
	q.panelTitle(p.Measure, left, right, y)
	y -= panelHead
	height := [2]vg.Length{y - feetRow + 5, y - feetRow - feetSlope - 5} // of the marks
	mean := [2]vg.Length{height[0] + 9, height[1] - 9}
	for _, foot := range device.Feet {
		q.zoneBand(a, p.Targets[foot], min(height[foot], mean[foot])-5, max(height[foot], mean[foot])+5)
		q.write(left, height[foot]-3, fromLeft, q.text(), foot.String())
	}
	base := a.at(p.Means[1])
	diffTop := y - 2*feetRow - feetSlope
	q.dashed(0.8, q.Quiet, vg.Point{X: base, Y: mean[1]}, vg.Point{X: base, Y: diffTop - shoesDiff})
	for _, pair := range p.Pairs {
		q.line(0.8, mix(q.Paper, m.Ink, 0.85), vg.Point{X: a.at(pair[0]), Y: height[0]}, vg.Point{X: a.at(pair[1]), Y: height[1]})
	}
	for _, pair := range p.Pairs {
		for _, foot := range device.Feet {
			q.mark(m, vg.Point{X: a.at(pair[foot]), Y: height[foot]}, 2.2)
		}
	}
	for _, foot := range device.Feet {
		q.meanAndInterval(a, mean[foot], p.Means[foot], nil)
	}
	d := ShoesDiff{Label: "left − right", Numbers: p.Numbers, Wording: p.Wording, Base: p.Means[1], Diff: p.Diff, CI: p.CI}
	d.draw(q, a, left, right, diffTop, 0)
	q.valueAxis(a, diffTop-shoesDiff, p.Measure)
}

// Describe implements Picture.
func (p *Feet) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Left against right in shoe %s.", p.Shoe)
	for _, panel := range p.Panels {
		fmt.Fprintf(&b, " %s, left − right: %s, %s.", panel.Measure.Title, panel.Numbers, panel.Wording)
	}
	return b.String()
}
