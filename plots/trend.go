package plots

import (
	"fmt"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/track"
	"aplomb/plots/words"
)

// Trend shows one measure over visits. Each foot and the difference between the
// feet has a panel, with the band of the minimal detectable change about the value
// of the reference visit. All panels share one time axis.
type Trend struct {
	Theme    Theme
	Measure  words.Display
	Panels   []TrendPanel
	NoLegend bool // for a picture beside another one that has the legend
}

// TrendPanel is one side in one shoe. Its numbers are in display units.
type TrendPanel struct {
	Title  string
	Points []TrendPoint // by time
	MDC    *float64     // minimal detectable change, half the height of the band; nil where it is not known
}

// TrendPoint is one visit.
type TrendPoint struct {
	At        time.Time
	Value     float64
	Reference bool          // whether changes are counted from this visit
	Wording   track.Wording // of the change; empty where the noise is not known
}

// NewTrend returns the picture of a follow-up, with a panel for each of its series.
func NewTrend(f *track.FollowUp) *Trend {
	p := &Trend{Theme: DefaultTheme(), Measure: words.DisplayOf(f.Measure)}
	for _, s := range f.Series {
		panel := TrendPanel{Title: strings.Join(nonEmpty(sideWords[s.Side], "shoe "+s.Shoe, s.Support, s.Rise), ", ")}
		if s.Repeat != nil {
			mdc := s.Repeat.MDC95 * p.Measure.Scale
			panel.MDC = &mdc
		}
		for _, v := range s.Points {
			panel.Points = append(panel.Points, TrendPoint{
				At: v.At, Value: v.Mean * p.Measure.Scale, Reference: v.Reference, Wording: v.Wording,
			})
		}
		p.Panels = append(p.Panels, panel)
	}
	return p
}

var sideWords = map[track.Side]string{
	track.Left: "left foot", track.Right: "right foot", track.Between: "left − right", track.Both: "both feet",
}

const (
	trendWide  = 9.5 * vg.Centimeter
	trendPlot  = 52
	trendScale = 40 // for the figures to the left of a panel
	trendDates = 16
)

// Size implements Picture.
func (p *Trend) Size() (width, height vg.Length) {
	panels := vg.Length(len(p.Panels)) * (panelHead + trendPlot + panelGap)
	return trendWide, 2*panelMargin + pictureHead + panels - panelGap + trendDates + 4 +
		p.legend().height(p.Theme.small(), trendWide-2*panelMargin)
}

// Draw implements Picture.
func (p *Trend) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	title := p.Measure.Title
	if p.Measure.Unit != "" {
		title += ", " + p.Measure.Unit
	}
	q.write(left, y-10, fromLeft, q.strong(), fit(title, q.strong(), right-left))
	y -= pictureHead
	times := p.timeAxis(left+trendScale+8, right-8)
	for _, panel := range p.Panels {
		panel.draw(q, times, left, right, y)
		y -= panelHead + trendPlot + panelGap
	}
	p.writeDates(q, times, y+panelGap)
	p.legend().draw(q, left, y+panelGap-trendDates-4, right-left)
}

// timeAxis returns the axis that all panels share, in seconds since 1970.
func (p *Trend) timeAxis(from, to vg.Length) axis {
	s := emptyRange()
	for _, panel := range p.Panels {
		for _, v := range panel.Points {
			s.include(float64(v.At.Unix()))
		}
	}
	if s.lo >= s.hi {
		s.include(s.lo-86400, s.lo+86400)
	}
	return axis{s.lo, s.hi, from, to}
}

func (p *TrendPanel) draw(q canvas, times axis, left, right, y vg.Length) {
	bold := style{q.Text, true, q.Ink}
	last := p.last()
	q.write(right, y-10, fromRight, bold, last)
	q.write(left, y-10, fromLeft, bold, fit(p.Title, bold, right-left-bold.width(last)-10))
	y -= panelHead
	v := p.valueAxis(y-trendPlot+6, y-6)
	edge := left + trendScale
	if ref := p.reference(); ref != nil && p.MDC != nil {
		lo, hi := v.at(ref.Value-*p.MDC), v.at(ref.Value+*p.MDC)
		q.box(vg.Rectangle{Min: vg.Point{X: edge, Y: lo}, Max: vg.Point{X: right, Y: hi}}, q.Tint)
		for _, at := range []vg.Length{lo, hi} {
			q.dashed(0.8, q.Quiet, vg.Point{X: edge, Y: at}, vg.Point{X: right, Y: at})
		}
	}
	q.line(0.7, q.Quiet, vg.Point{X: edge, Y: y}, vg.Point{X: edge, Y: y - trendPlot})
	for _, t := range v.ticks(11) {
		at := v.at(t.Value)
		q.line(0.7, q.Quiet, vg.Point{X: edge - 3, Y: at}, vg.Point{X: edge, Y: at})
		q.write(edge-6, at-q.Small*0.35, fromRight, q.small(), t.Label)
	}
	var path []vg.Point
	for _, point := range p.Points {
		path = append(path, vg.Point{X: times.at(float64(point.At.Unix())), Y: v.at(point.Value)})
	}
	if len(path) > 1 {
		q.line(1.2, q.Ink, path...)
	}
	for i, point := range p.Points {
		q.drawVisit(point, path[i])
	}
}

// drawVisit draws the reference visit as a square, a visit whose change is beyond
// noise as a disc, and any other as a ring.
func (q canvas) drawVisit(v TrendPoint, at vg.Point) {
	switch {
	case v.Reference:
		q.drawMark(Mark{Square, q.Ink}, at, 3.4)
	case v.Wording == track.BeyondNoise:
		q.drawMark(Mark{Disc, q.Ink}, at, 3.4)
	default:
		q.drawRing(at)
	}
}

// valueAxis returns an axis that shows every visit and the band.
func (p *TrendPanel) valueAxis(from, to vg.Length) axis {
	s := emptyRange()
	for _, v := range p.Points {
		s.include(v.Value)
	}
	if ref := p.reference(); ref != nil && p.MDC != nil {
		s.include(ref.Value-*p.MDC, ref.Value+*p.MDC)
	}
	return s.axis(from, to)
}

func (p *TrendPanel) reference() *TrendPoint {
	for i := range p.Points {
		if p.Points[i].Reference {
			return &p.Points[i]
		}
	}
	return nil
}

// last returns the wording of the last visit.
func (p *TrendPanel) last() string {
	switch n := len(p.Points); {
	case n < 2:
		return "one visit only"
	case p.Points[n-1].Wording == "":
		return "noise not known"
	default:
		return "last visit: " + string(p.Points[n-1].Wording)
	}
}

// writeDates writes the date of the first visit, and of every other visit whose
// date does not overlap another.
func (p *Trend) writeDates(q canvas, times axis, y vg.Length) {
	taken := map[vg.Length]bool{}
	var boxes [][2]vg.Length
	for _, panel := range p.Panels {
		for _, v := range panel.Points {
			x, text := times.at(float64(v.At.Unix())), v.At.Format("2 Jan 06")
			if taken[x] {
				continue
			}
			half := q.small().width(text)/2 + 3
			centre := max(q.Min.X+panelMargin+half, min(q.Max.X-panelMargin-half, x))
			free := true
			for _, b := range boxes {
				free = free && (centre+half <= b[0] || centre-half >= b[1])
			}
			if taken[x] = true; free {
				boxes = append(boxes, [2]vg.Length{centre - half, centre + half})
				q.write(centre, y-11, centred, q.small(), text)
			}
		}
	}
}

func (p *Trend) legend() legend {
	if p.NoLegend {
		return nil
	}
	at := func(draw func(q canvas, at vg.Point)) func(canvas, vg.Point) {
		return func(q canvas, left vg.Point) { draw(q, vg.Point{X: left.X + 5, Y: left.Y}) }
	}
	return legend{
		{10, at(func(q canvas, at vg.Point) { q.drawVisit(TrendPoint{Reference: true}, at) }), "reference visit"},
		{10, at(func(q canvas, at vg.Point) { q.drawVisit(TrendPoint{Wording: track.BeyondNoise}, at) }), string(track.BeyondNoise)},
		{10, at(func(q canvas, at vg.Point) { q.drawVisit(TrendPoint{}, at) }), "within noise, or not known"},
		{16, func(q canvas, at vg.Point) {
			q.box(vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 5}, Max: vg.Point{X: at.X + 16, Y: at.Y + 5}}, q.Tint)
			for _, y := range []vg.Length{-5, 5} {
				q.dashed(0.8, q.Quiet, vg.Point{X: at.X, Y: at.Y + y}, vg.Point{X: at.X + 16, Y: at.Y + y})
			}
		}, "minimal detectable change, 95 %"},
	}
}

// Describe implements Picture.
func (p *Trend) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s over visits.", p.Measure.Title)
	for _, panel := range p.Panels {
		fmt.Fprintf(&b, " %s: %s", panel.Title, panel.last())
		if n := len(panel.Points); n > 0 {
			fmt.Fprintf(&b, ", from %s to %s", p.Measure.Value(panel.Points[0].Value/p.Measure.Scale),
				p.Measure.Value(panel.Points[n-1].Value/p.Measure.Scale))
		}
		b.WriteString(".")
	}
	return b.String()
}
