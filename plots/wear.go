package plots

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// Wear shows where the load sat in one shoe over all its relevés: outline and kern
// of each platform, a mark at the centre of pressure of every relevé, and around
// each mark an ellipse of two standard deviations of the sway of that hold along
// each axis. The view is that of Platforms, without the pressure.
type Wear struct {
	Theme Theme
	Row   PlatformRow

	all []PlatformRow // the shoes whose pictures have the same scale
}

// NewWears returns a picture for each shoe of a comparison under each set of
// conditions, all to one scale.
func NewWears(c *compare.Comparison) []*Wear {
	all := NewPlatforms(c)
	var out []*Wear
	for _, row := range all.Rows {
		out = append(out, &Wear{Theme: all.Theme, Row: row, all: all.Rows})
	}
	return out
}

const (
	wearWide    = 9 * vg.Centimeter
	wearColumn  = (wearWide - 2*platformsMargin - columnGap) / 2
	wearVerdict = 20
	wearLine    = 11 // a further line of the verdict
)

// Size implements Picture.
func (p *Wear) Size() (width, height vg.Length) {
	_, deep := extent(p.Row)
	return wearWide, 2*platformsMargin + rowHead + feetHead + 2*sideLabel + vg.Length(deep)*p.scale() + p.verdictHeight() +
		p.legend().height(p.Theme.small(), wearWide-2*platformsMargin)
}

func (p *Wear) scale() vg.Length {
	wide, deep := extent(p.all...)
	return min(wearColumn/vg.Length(wide), 7*vg.Centimeter/vg.Length(deep))
}

// verdictLines returns the verdict of a shoe on a foot in the lines that a width has room
// for.
func verdictLines(f *compare.ShoeFoot, s style, wide vg.Length) []string {
	medial := f.Measures[measure.Medial].Mean
	if text := words.Verdict(f.Verdict, f.Misses, medial); s.width(text) <= wide {
		return []string{text}
	}
	return wrapped(strings.SplitAfter(words.ShortVerdict(f.Verdict, f.Misses, medial), ", "), s, wide)
}

func (p *Wear) verdictStyle() style { return style{p.Theme.Text, true, p.Theme.Ink} }

// verdictHeight returns the height of the longer verdict of both feet.
func (p *Wear) verdictHeight() vg.Length {
	lines := 1
	for _, f := range p.Row.Feet {
		if f != nil {
			lines = max(lines, len(verdictLines(f, p.verdictStyle(), wearColumn)))
		}
	}
	return wearVerdict + wearLine*vg.Length(lines-1)
}

// Draw implements Picture.
func (p *Wear) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+platformsMargin, c.Max.X-platformsMargin, c.Max.Y-platformsMargin
	const column = wearColumn
	middle := [2]vg.Length{left + column/2, right - column/2}
	q.drawMark(p.Row.Mark, vg.Point{X: left + 5, Y: y - 8}, 3.6)
	q.write(left+14, y-12, fromLeft, q.strong(), fit(p.Row.Title, q.strong(), right-left-14))
	y -= rowHead
	_, deep := extent(p.Row)
	tall := vg.Length(deep) * p.scale()
	for _, foot := range device.Feet {
		q.write(middle[foot], y-12, centred, style{q.Text, true, q.Quiet}, foot.String()+" foot")
		origin := vg.Point{X: middle[foot], Y: y - feetHead - sideLabel - tall/2}
		if f := p.Row.Feet[foot]; f != nil {
			p.drawFoot(q, f, projection{origin, p.scale(), foot}, column)
		} else {
			q.write(origin.X, origin.Y, centred, q.small(), "not recorded")
		}
	}
	y -= feetHead + 2*sideLabel + tall + p.verdictHeight()
	p.legend().draw(q, left, y, right-left)
}

func (p *Wear) drawFoot(q canvas, f *compare.ShoeFoot, v projection, column vg.Length) {
	q.fill(q.KernFill, v.points(simplify(f.Platform.Kern)))
	sways := swayEllipses(f)
	for _, h := range sways {
		q.fill(q.Tint, v.points(f.Platform.Outline.Clip(h)))
	}
	for _, h := range sways {
		q.strokeClosed(0.5, q.Quiet, nil, v.points(f.Platform.Outline.Clip(h)))
	}
	q.strokeClosed(1.3, q.Kern, nil, v.points(simplify(f.Platform.Kern)))
	q.strokeClosed(2, q.Ink, nil, v.points(simplify(f.Platform.Outline)))
	for _, r := range f.Releves {
		if r.Hold != nil {
			q.drawMark(p.Row.Mark, v.at(platform.Point{r.MedialMM, r.OverMM}), 2.6)
		}
	}
	below := q.platformSides(f, v, column)
	for i, text := range verdictLines(f, p.verdictStyle(), wearColumn) {
		q.write(v.origin.X, below-15-wearLine*vg.Length(i), centred, p.verdictStyle(), text)
	}
}

// swayEllipses returns an ellipse for each hold whose sway is known: two standard
// deviations along each axis about its centre of pressure, medial and over in mm.
func swayEllipses(f *compare.ShoeFoot) []platform.Polygon {
	var out []platform.Polygon
	for _, r := range f.Releves {
		if r.Hold == nil || r.Sway == nil || !finite(r) {
			continue
		}
		e := make(platform.Polygon, 36)
		for i := range e {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(e)))
			e[i] = platform.Point{r.MedialMM + 2*r.Sway.SDMedialMM*cos, r.OverMM + 2*r.Sway.SDOverMM*sin}
		}
		out = append(out, e)
	}
	return out
}

func finite(r measure.Releve) bool {
	sum := r.MedialMM + r.OverMM + r.Sway.SDMedialMM + r.Sway.SDOverMM
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

func (p *Wear) legend() legend {
	items := legend{kernSample(words.Kern), marksSample([]Mark{p.Row.Mark}, 2.6)}
	for _, f := range p.Row.Feet {
		if f != nil && len(swayEllipses(f)) > 0 {
			return append(items, legendItem{16, swaySample, "sway, ±2 standard deviations"})
		}
	}
	return items
}

func swaySample(q canvas, at vg.Point) {
	pts := make([]vg.Point, 24)
	for i := range pts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(pts)))
		pts[i] = vg.Point{X: at.X + 8 + vg.Length(8*cos), Y: at.Y + vg.Length(5*sin)}
	}
	q.fill(q.Tint, pts)
	q.strokeClosed(0.5, q.Quiet, nil, pts)
}

// Describe implements Picture.
func (p *Wear) Describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: the centres of pressure of all relevés on the platform.", p.Row.Title)
	for _, f := range p.Row.Feet {
		if f != nil {
			fmt.Fprintf(&b, " %s foot: %s in %s.", f.Foot, words.Verdict(f.Verdict, f.Misses, f.Measures[measure.Medial].Mean), words.Count(f.N, "relevé", "relevés"))
		}
	}
	return b.String()
}
