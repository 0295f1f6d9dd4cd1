package plots

import (
	"fmt"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/track"
)

// Trend is one measure over visits on one time axis: a panel for each foot and
// one for the difference, each with the band of the minimal detectable change
// about its reference visit.
type Trend struct {
	Look    Look
	Measure Shown
	Panels  []TrendPanel
	Bare    bool // no legend: another picture beside it has one
}

// TrendPanel is one side in one shoe. Its numbers are in shown units.
type TrendPanel struct {
	Title  string
	Points []TrendPoint // by time
	MDC    *float64     // half the height of the band; nil where it is not known
}

// TrendPoint is one visit.
type TrendPoint struct {
	At        time.Time
	Value     float64
	Reference bool   // what changes are counted from
	Wording   string // "beyond noise", "within noise", or "" where neither can be said
}

// NewTrend takes a measure's follow-up, a panel for each of its series.
func NewTrend(f *track.FollowUp) *Trend {
	p := &Trend{Look: DefaultLook(), Measure: Show(f.Measure)}
	for _, s := range f.Series {
		panel := TrendPanel{Title: strings.Join(nonEmpty(sideWords[s.Side], "shoe "+s.Shoe, s.Support, s.Rise), ", ")}
		if s.Repeat != nil {
			mdc := s.Repeat.MDC95 * p.Measure.Scale
			panel.MDC = &mdc
		}
		for _, v := range s.Points {
			panel.Points = append(panel.Points, TrendPoint{
				At: v.At, Value: v.Mean * p.Measure.Scale, Reference: v.Reference, Wording: string(v.Wording),
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
	trendScale = 40 // room for the figures left of a panel
	trendDates = 16
	beyond     = string(track.BeyondNoise)
)

// Size implements Picture.
func (p *Trend) Size() (width, height vg.Length) {
	panels := vg.Length(len(p.Panels)) * (panelHead + trendPlot + panelGap)
	return trendWide, 2*panelMargin + pictureHead + panels - panelGap + trendDates + 4 +
		p.legend().height(p.Look.small(), trendWide-2*panelMargin)
}

// Draw implements Picture.
func (p *Trend) Draw(c draw.Canvas) {
	q := newPen(c, &p.Look)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	title := p.Measure.Title
	if p.Measure.Unit != "" {
		title += ", " + p.Measure.Unit
	}
	q.write(left, y-10, fromLeft, q.strong(), fit(title, q.strong(), right-left))
	y -= pictureHead
	times := p.times(left+trendScale+8, right-8)
	for _, panel := range p.Panels {
		panel.draw(q, times, left, right, y)
		y -= panelHead + trendPlot + panelGap
	}
	p.dates(q, times, y+panelGap)
	p.legend().draw(q, left, y+panelGap-trendDates-4, right-left)
}

// times is the axis that all panels share, in seconds since 1970.
func (p *Trend) times(from, to vg.Length) axis {
	s := newSpread()
	for _, panel := range p.Panels {
		for _, v := range panel.Points {
			s.hold(float64(v.At.Unix()))
		}
	}
	if s.lo >= s.hi {
		s.hold(s.lo-86400, s.lo+86400)
	}
	return axis{s.lo, s.hi, from, to}
}

func (p *TrendPanel) draw(q pen, times axis, left, right, y vg.Length) {
	bold := style{q.Text, true, q.Ink}
	said := p.last()
	q.write(right, y-10, fromRight, bold, said)
	q.write(left, y-10, fromLeft, bold, fit(p.Title, bold, right-left-bold.width(said)-10))
	y -= panelHead
	v := p.values(y-trendPlot+6, y-6)
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
		q.visit(point, path[i])
	}
}

// visit draws a reference as a square, a change beyond noise full, any other hollow.
func (q pen) visit(v TrendPoint, at vg.Point) {
	switch {
	case v.Reference:
		q.mark(Mark{Square, q.Ink}, at, 3.4)
	case v.Wording == beyond:
		q.mark(Mark{Disc, q.Ink}, at, 3.4)
	default:
		q.ring(at)
	}
}

// values holds every visit and the band.
func (p *TrendPanel) values(from, to vg.Length) axis {
	s := newSpread()
	for _, v := range p.Points {
		s.hold(v.Value)
	}
	if ref := p.reference(); ref != nil && p.MDC != nil {
		s.hold(ref.Value-*p.MDC, ref.Value+*p.MDC)
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

// last says what the newest visit says.
func (p *TrendPanel) last() string {
	switch n := len(p.Points); {
	case n < 2:
		return "one visit only"
	case p.Points[n-1].Wording == "":
		return "noise not known"
	default:
		return "last visit: " + p.Points[n-1].Wording
	}
}

// dates writes the date of each visit for which there is room, the first in any case.
func (p *Trend) dates(q pen, times axis, y vg.Length) {
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
	if p.Bare {
		return nil
	}
	at := func(draw func(q pen, at vg.Point)) func(pen, vg.Point) {
		return func(q pen, left vg.Point) { draw(q, vg.Point{X: left.X + 5, Y: left.Y}) }
	}
	return legend{
		{10, at(func(q pen, at vg.Point) { q.visit(TrendPoint{Reference: true}, at) }), "reference visit"},
		{10, at(func(q pen, at vg.Point) { q.visit(TrendPoint{Wording: beyond}, at) }), beyond},
		{10, at(func(q pen, at vg.Point) { q.visit(TrendPoint{}, at) }), "within noise, or not known"},
		{16, func(q pen, at vg.Point) {
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
			fmt.Fprintf(&b, ", from %s to %s", withUnit(Number(panel.Points[0].Value, p.Measure.Decimals), p.Measure.Unit),
				withUnit(Number(panel.Points[n-1].Value, p.Measure.Decimals), p.Measure.Unit))
		}
		b.WriteString(".")
	}
	return b.String()
}
