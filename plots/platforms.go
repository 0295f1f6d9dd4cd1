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
)

// Platforms is the platform picture: every shoe a row, left and right side by
// side, looking down through the foot with the front up, so that the big toes
// face each other. Outline and kern are the drawing; pressure lies quiet under
// them, on one scale throughout; over it stands every relevé.
type Platforms struct {
	Look Look
	Rows []PlatformRow
}

// PlatformRow is one shoe under one set of conditions.
type PlatformRow struct {
	Title string
	Facts string // what the shoe is, and how it was stood in
	Mark  Mark
	Feet  [2]*compare.ShoeFoot // by foot; nil where there is none
}

// NewPlatforms takes every shoe of a comparison.
func NewPlatforms(c *compare.Comparison) *Platforms {
	p := &Platforms{Look: DefaultLook()}
	for _, group := range groups(c) {
		p.Rows = append(p.Rows, PlatformRow{
			Title: group.name(),
			Facts: group.facts(),
			Mark:  p.Look.mark(group.shoe),
			Feet:  group.feet,
		})
	}
	return p
}

const (
	platformsWide   = 11.5 * vg.Centimeter
	platformsMargin = 8
	columnGap       = 20
	rowHead         = 18 // the shoe's line
	rowGap          = 18
	sideLabel       = 12 // front above; back and the toes below
	verdictBlock    = 41 // verdict, over, contact
	feetHead        = 20
	keyBlock        = 26
)

// Size implements Picture.
func (p *Platforms) Size() (width, height vg.Length) {
	return platformsWide, feetHead + p.rowsHeight() + p.footHeight() + 2*platformsMargin
}

func (p *Platforms) rowsHeight() (h vg.Length) {
	for _, row := range p.Rows {
		h += p.rowHeight(row)
	}
	return h
}

func (p *Platforms) rowHeight(row PlatformRow) vg.Length {
	_, deep := extent(row)
	return rowHead + sideLabel + vg.Length(deep)*p.scale() + sideLabel + verdictBlock + rowGap
}

func (p *Platforms) footHeight() vg.Length {
	return p.legend().height(p.Look.small(), platformsWide-2*platformsMargin) + keyBlock
}

// extent returns the width and depth that hold every platform of rows round its centroid, mm.
func extent(rows ...PlatformRow) (wide, deep float64) {
	for _, row := range rows {
		for _, f := range row.Feet {
			if f == nil {
				continue
			}
			lo, hi := f.Platform.Outline.Bounds()
			wide = max(wide, 2*max(-lo[0], hi[0]))
			deep = max(deep, 2*max(-lo[1], hi[1]))
		}
	}
	if wide == 0 || deep == 0 {
		return 36, 22
	}
	return wide, deep
}

// scale returns the points that one mm of platform takes.
func (p *Platforms) scale() vg.Length {
	wide, deep := extent(p.Rows...)
	return min((platformsWide-2*platformsMargin-columnGap)/2/vg.Length(wide), 7*vg.Centimeter/vg.Length(deep))
}

// Draw implements Picture.
func (p *Platforms) Draw(c draw.Canvas) {
	q := newPen(c, &p.Look)
	left, right := c.Min.X+platformsMargin, c.Max.X-platformsMargin
	column := (right - left - columnGap) / 2
	middle := [2]vg.Length{left + column/2, right - column/2}
	y := c.Max.Y - platformsMargin
	for _, foot := range device.Feet {
		q.write(middle[foot], y-12, centred, style{p.Look.Strong, true, p.Look.Quiet}, foot.String()+" foot")
	}
	y -= feetHead

	scale, top := p.scale(), p.top()
	for _, row := range p.Rows {
		_, deep := extent(row)
		q.rowHead(row, left, right, y)
		for _, foot := range device.Feet {
			origin := vg.Point{X: middle[foot], Y: y - rowHead - sideLabel - vg.Length(deep)/2*scale}
			if f := row.Feet[foot]; f == nil {
				q.write(origin.X, origin.Y, centred, p.Look.small(), "not recorded")
			} else {
				p.drawFoot(q, f, row.Mark, view{origin, scale, f.Foot}, column, top)
			}
		}
		y -= p.rowHeight(row)
	}

	q.line(0.6, p.Look.Hair, vg.Point{X: left, Y: y + rowGap/2}, vg.Point{X: right, Y: y + rowGap/2})
	p.legend().draw(q, left, y, right-left)
	y -= p.legend().height(p.Look.small(), right-left)
	q.pressureKey(left, y-4, top)
}

func (q pen) rowHead(row PlatformRow, left, right, y vg.Length) {
	q.mark(row.Mark, vg.Point{X: left + 5, Y: y - 8}, 3.6)
	title := fit(row.Title, q.strong(), (right-left)*0.55)
	q.write(left+14, y-12, fromLeft, q.strong(), title)
	x := left + 14 + q.strong().width(title) + 8
	q.write(x, y-12, fromLeft, q.small(), fit(row.Facts, q.small(), right-x))
}

// view maps a point of the platform to the canvas, front up, big toes inwards.
type view struct {
	origin vg.Point
	scale  vg.Length
	foot   device.Foot
}

func (v view) at(r platform.Point) vg.Point {
	towardsBigToe := vg.Length(1)
	if v.foot == device.Right {
		towardsBigToe = -1
	}
	return vg.Point{X: v.origin.X + towardsBigToe*vg.Length(r[0])*v.scale, Y: v.origin.Y + vg.Length(r[1])*v.scale}
}

func (v view) all(p platform.Polygon) []vg.Point {
	pts := make([]vg.Point, len(p))
	for i, r := range p {
		pts[i] = v.at(r)
	}
	return pts
}

func (p *Platforms) drawFoot(q pen, f *compare.ShoeFoot, m Mark, v view, column vg.Length, top float64) {
	l := q.Look
	loaded := cells(f)
	for _, c := range loaded {
		q.fill(l.pressure(c.kPa/top), v.all(c.part))
		q.outline(0.5, l.Paper, nil, v.all(c.part))
	}
	if f.Platform.Covered < covered {
		for _, part := range inside(fine(f.Strip.Outline()), f.Platform.Outline) {
			q.StrokeLines(stripEdge(l), v.all(part))
		}
	}
	q.outline(2, l.Ink, nil, v.all(thin(f.Platform.Outline)))
	kern := thin(f.Platform.Kern)
	q.fill(l.Zone, v.all(kern))
	for _, c := range loaded {
		q.fill(mix(l.pressure(c.kPa/top), l.Zone, 0.6), v.all(kern.Clip(c.outline)))
	}
	q.outline(1.3, l.Kern, nil, v.all(kern))

	centre := v.at(platform.Point{})
	q.line(0.8, l.Kern, vg.Point{X: centre.X - 3, Y: centre.Y}, vg.Point{X: centre.X + 3, Y: centre.Y})
	q.line(0.8, l.Kern, vg.Point{X: centre.X, Y: centre.Y - 3}, vg.Point{X: centre.X, Y: centre.Y + 3})

	for _, part := range inside(ellipse(f), f.Platform.Outline) {
		q.line(2, l.Paper, v.all(part)...)
		q.dashed(0.9, l.Ink, v.all(part)...)
	}
	for _, r := range f.Releves {
		if r.Hold != nil {
			q.mark(m, v.at(platform.Point{r.MedialMM, r.OverMM}), 2.6)
		}
	}

	below := q.platformSides(f, v, column)
	q.write(v.origin.X, below-16, centred, l.strong(), VerdictWords(f.Verdict, f.Measures[measure.Medial].Mean))
	if over, ok := f.Measures[measure.Over]; ok {
		q.write(v.origin.X, below-28.5, centred, l.text(), "over "+Show(measure.Over).PlusMinus(over))
	}
	if contact, ok := f.Measures[measure.ContactShare]; ok {
		q.write(v.origin.X, below-40, centred, l.text(), Show(measure.ContactShare).PlusMinus(contact)+" in contact")
	}
}

// platformSides names the sides of a platform round it, and returns the height of the names below.
func (q pen) platformSides(f *compare.ShoeFoot, v view, column vg.Length) vg.Length {
	lo, hi := f.Platform.Outline.Bounds()
	above, below := v.at(platform.Point{0, hi[1]}).Y+3.5, v.at(platform.Point{0, lo[1]}).Y-10.5
	q.write(v.origin.X, above, centred, q.small(), "front")
	q.write(v.origin.X, below, centred, q.small(), "back")
	toes := [2]string{"little toe", "big toe"}
	if f.Foot == device.Right {
		toes[0], toes[1] = toes[1], toes[0]
	}
	reach := min(column/2, vg.Length(max(-lo[0], hi[0]))*v.scale)
	q.write(v.origin.X-reach, below, fromLeft, q.small(), toes[0])
	q.write(v.origin.X+reach, below, fromRight, q.small(), toes[1])
	return below
}

// legend says what is drawn.
func (p *Platforms) legend() legend {
	m := Mark{Disc, p.Look.Ink}
	if len(p.Rows) == 1 {
		m = p.Rows[0].Mark
	}
	items := legend{
		kernSample("kern, the target: from here the whole platform loads"),
	}
	marks := []Mark{m}
	if len(p.Rows) > 1 {
		marks = nil
		for _, row := range p.Rows[:min(len(p.Rows), 3)] {
			marks = append(marks, row.Mark)
		}
	}
	items = append(items, legendItem{vg.Length(10 * len(marks)), func(q pen, at vg.Point) {
		for i, m := range marks {
			q.mark(m, vg.Point{X: at.X + 5 + vg.Length(10*i), Y: at.Y}, 2.6)
		}
	}, "one relevé"})
	if p.has(func(f *compare.ShoeFoot) bool { return len(ellipse(f)) > 0 }) {
		items = append(items, legendItem{20, ellipseSample, "where 95 % of such relevés should fall"})
	}
	if p.has(func(f *compare.ShoeFoot) bool { return f.Platform.Covered < covered }) {
		items = append(items, legendItem{16, func(q pen, at vg.Point) {
			q.StrokeLine2(stripEdge(q.Look), at.X, at.Y, at.X+16, at.Y)
		}, "edge of the strip"})
	}
	return items
}

func kernSample(meaning string) legendItem {
	return legendItem{16, func(q pen, at vg.Point) {
		pts := []vg.Point{{X: at.X, Y: at.Y}, {X: at.X + 8, Y: at.Y + 5}, {X: at.X + 16, Y: at.Y}, {X: at.X + 8, Y: at.Y - 5}}
		q.fill(q.Zone, pts)
		q.outline(1.3, q.Kern, nil, pts)
	}, meaning}
}

func ellipseSample(q pen, at vg.Point) {
	pts := make([]vg.Point, 40)
	for i := range pts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 40)
		pts[i] = vg.Point{X: at.X + 10 + vg.Length(10*cos), Y: at.Y + vg.Length(5*sin)}
	}
	q.outline(0.9, q.Ink, []vg.Length{3, 2}, pts)
}

// covered is the share of a platform from which the strip may be taken to cover it.
const covered = 0.98

func stripEdge(l *Look) draw.LineStyle {
	return draw.LineStyle{Color: l.Quiet, Width: 0.7, Dashes: []vg.Length{0.8, 2}}
}

// has says whether any platform of the picture is so.
func (p *Platforms) has(is func(*compare.ShoeFoot) bool) bool {
	for _, row := range p.Rows {
		for _, f := range row.Feet {
			if f != nil && is(f) {
				return true
			}
		}
	}
	return false
}

// Describe implements Picture.
func (p *Platforms) Describe() string {
	var b strings.Builder
	b.WriteString("Platforms seen from above with the centre of pressure of every relevé.")
	for _, row := range p.Rows {
		for _, f := range row.Feet {
			if f != nil {
				fmt.Fprintf(&b, " %s, %s foot: %s, over %s.", row.Title, f.Foot,
					VerdictWords(f.Verdict, f.Measures[measure.Medial].Mean), Show(measure.Over).PlusMinus(f.Measures[measure.Over]))
			}
		}
	}
	return b.String()
}
