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

// Platforms shows the platforms of every shoe: a row for each shoe, left foot and right
// foot side by side, as seen from above through the foot, front up, so that the big toes
// face each other. A platform has its outline, its kern, the mean pressure of each cell
// in greys from none to the largest of the picture, and a mark at the centre of pressure
// of each relevé. Where the platform lifts off, it has the edge of contact of the relevé
// closest to the mean.
type Platforms struct {
	Theme Theme
	Rows  []PlatformRow
}

// PlatformRow is one shoe under one set of conditions.
type PlatformRow struct {
	Name  string // the shoe's code, with the conditions where they are needed to identify the row
	Title string // Name as a heading
	Facts string // box, crown and shank
	Mark  Mark
	Feet  [2]*compare.ShoeFoot // by foot; nil for a foot that was not recorded
}

// NewPlatforms returns the picture of every shoe of a comparison.
func NewPlatforms(c *compare.Comparison) *Platforms {
	p := &Platforms{Theme: DefaultTheme()}
	for _, group := range groups(c) {
		p.Rows = append(p.Rows, PlatformRow{
			Name:  group.name(),
			Title: group.title(),
			Facts: group.facts(),
			Mark:  p.Theme.markOf(group.shoe),
			Feet:  group.feet,
		})
	}
	return p
}

const (
	platformsWide   = 11.5 * vg.Centimeter
	platformsMargin = 8
	columnGap       = 20
	rowHead         = 18 // the line with the shoe's name
	rowGap          = 18
	sideLabel       = 12 // the names of the platform's sides, above and below it
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
	return p.legend().height(p.Theme.small(), platformsWide-2*platformsMargin) + keyBlock
}

// extent returns the width and depth, in mm, of a rectangle about the centroid
// that contains every platform of the rows.
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

// scale returns the size of one mm of platform, in points.
func (p *Platforms) scale() vg.Length {
	wide, deep := extent(p.Rows...)
	return min((platformsWide-2*platformsMargin-columnGap)/2/vg.Length(wide), 7*vg.Centimeter/vg.Length(deep))
}

// Draw implements Picture.
func (p *Platforms) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right := c.Min.X+platformsMargin, c.Max.X-platformsMargin
	column := (right - left - columnGap) / 2
	middle := [2]vg.Length{left + column/2, right - column/2}
	y := c.Max.Y - platformsMargin
	for _, foot := range device.Feet {
		q.write(middle[foot], y-12, centred, style{p.Theme.Strong, true, p.Theme.Quiet}, foot.String()+" foot")
	}
	y -= feetHead

	scale, top := p.scale(), p.top()
	for _, row := range p.Rows {
		_, deep := extent(row)
		q.writeRowHead(row, left, right, y)
		for _, foot := range device.Feet {
			origin := vg.Point{X: middle[foot], Y: y - rowHead - sideLabel - vg.Length(deep)/2*scale}
			if f := row.Feet[foot]; f == nil {
				q.write(origin.X, origin.Y, centred, p.Theme.small(), "not recorded")
			} else {
				p.drawFoot(q, f, row.Mark, projection{origin, scale, f.Foot}, column, top)
			}
		}
		y -= p.rowHeight(row)
	}

	q.line(0.6, p.Theme.Hairline, vg.Point{X: left, Y: y + rowGap/2}, vg.Point{X: right, Y: y + rowGap/2})
	p.legend().draw(q, left, y, right-left)
	y -= p.legend().height(p.Theme.small(), right-left)
	q.pressureKey(left, y-4, top)
}

func (q canvas) writeRowHead(row PlatformRow, left, right, y vg.Length) {
	q.drawMark(row.Mark, vg.Point{X: left + 5, Y: y - 8}, 3.6)
	title := fit(row.Title, q.strong(), (right-left)*0.55)
	q.write(left+14, y-12, fromLeft, q.strong(), title)
	x := left + 14 + q.strong().width(title) + 8
	q.write(x, y-12, fromLeft, q.small(), fit(row.Facts, q.small(), right-x))
}

// projection maps points of a platform to the canvas: front up, big toe to the
// right on the left foot and to the left on the right foot.
type projection struct {
	origin vg.Point  // of the platform's centroid
	scale  vg.Length // points a mm
	foot   device.Foot
}

func (v projection) at(r platform.Point) vg.Point {
	towardsBigToe := vg.Length(1)
	if v.foot == device.Right {
		towardsBigToe = -1
	}
	return vg.Point{X: v.origin.X + towardsBigToe*vg.Length(r[0])*v.scale, Y: v.origin.Y + vg.Length(r[1])*v.scale}
}

func (v projection) points(p platform.Polygon) []vg.Point {
	pts := make([]vg.Point, len(p))
	for i, r := range p {
		pts[i] = v.at(r)
	}
	return pts
}

func (p *Platforms) drawFoot(q canvas, f *compare.ShoeFoot, m Mark, v projection, column vg.Length, top float64) {
	l := q.Theme
	outline, kern := simplify(f.Platform.Outline), simplify(f.Platform.Kern)
	q.fill(l.KernFill, v.points(kern))
	for _, c := range loadedCells(f) {
		q.fill(l.pressureGrey(c.kPa/top), v.points(c.within))
		q.strokeClosed(0.5, l.Paper, nil, v.points(c.within))
	}
	q.drawContactEdge(v, contactEdge(f))
	if f.Platform.Covered < coveredEnough {
		for _, part := range stretchesWithin(densify(f.Strip.Outline()), f.Platform.Outline) {
			q.line(2, l.Paper, v.points(part)...)
			q.StrokeLines(stripEdge(l), v.points(part))
		}
	}
	q.strokeClosed(4, l.Paper, nil, v.points(outline))
	q.strokeClosed(2, l.Ink, nil, v.points(outline))
	q.strokeClosed(3.4, l.Paper, nil, v.points(kern))
	q.strokeClosed(1.5, l.Kern, nil, v.points(kern))

	for _, part := range stretchesWithin(ellipse(f), f.Platform.Outline) {
		q.line(2, l.Paper, v.points(part)...)
		q.dashed(0.9, l.Ink, v.points(part)...)
	}
	for _, r := range f.Releves {
		if r.Hold != nil {
			q.drawMark(m, v.at(platform.Point{r.MedialMM, r.OverMM}), 2.6)
		}
	}

	below := q.platformSides(f, v, column)
	q.write(v.origin.X, below-16, centred, l.strong(), verdictWithin(f, l.strong(), column))
	if over, ok := f.Measures[measure.Over]; ok {
		q.write(v.origin.X, below-28.5, centred, l.text(), "over "+words.DisplayOf(measure.Over).PlusMinus(over.Mean, over.CI95))
	}
	if contact, ok := f.Measures[measure.ContactShare]; ok {
		q.write(v.origin.X, below-40, centred, l.text(), words.DisplayOf(measure.ContactShare).PlusMinus(contact.Mean, contact.CI95)+" in contact")
	}
}

// platformSides writes the names of a platform's sides around it. It returns the y
// coordinate of the names below.
func (q canvas) platformSides(f *compare.ShoeFoot, v projection, column vg.Length) vg.Length {
	lo, hi := f.Platform.Outline.Bounds()
	return q.namesOfSides(v, platform.Point{max(-lo[0], hi[0]), max(-lo[1], hi[1])}, column)
}

// namesOfSides writes the names of the sides around a rectangle with the given
// half-widths about the centroid, mm along medial and over; it omits back where it does
// not fit into the column between the other names. It returns the y coordinate of the
// names below.
func (q canvas) namesOfSides(v projection, half platform.Point, column vg.Length) vg.Length {
	above, below := v.origin.Y+vg.Length(half[1])*v.scale+3.5, v.origin.Y-vg.Length(half[1])*v.scale-10.5
	q.write(v.origin.X, above, centred, q.small(), "front")
	toes := [2]string{"little toe", "big toe"}
	if v.foot == device.Right {
		toes[0], toes[1] = toes[1], toes[0]
	}
	const apart = 4 // points between names
	room := q.small().width("back")/2 + apart + max(q.small().width(toes[0]), q.small().width(toes[1]))
	reach := min(column/2, max(room, vg.Length(half[0])*v.scale))
	if reach >= room {
		q.write(v.origin.X, below, centred, q.small(), "back")
	}
	q.write(v.origin.X-reach, below, fromLeft, q.small(), toes[0])
	q.write(v.origin.X+reach, below, fromRight, q.small(), toes[1])
	return below
}

func (p *Platforms) legend() legend {
	m := Mark{Disc, p.Theme.Ink}
	if len(p.Rows) == 1 {
		m = p.Rows[0].Mark
	}
	items := legend{
		kernSample(words.Kern + ": " + words.KernIs),
	}
	marks := []Mark{m}
	if len(p.Rows) > 1 {
		marks = nil
		for _, row := range p.Rows[:min(len(p.Rows), 3)] {
			marks = append(marks, row.Mark)
		}
	}
	items = append(items, marksSample(marks, 2.6))
	if p.has(func(f *compare.ShoeFoot) bool { return len(ellipse(f)) > 0 }) {
		items = append(items, legendItem{20, ellipseSample, "where 95 % of such relevés should fall"})
	}
	if p.has(func(f *compare.ShoeFoot) bool { return f.Platform.Covered < coveredEnough }) {
		items = append(items, legendItem{16, func(q canvas, at vg.Point) {
			q.StrokeLine2(stripEdge(q.Theme), at.X, at.Y, at.X+16, at.Y)
		}, "edge of the strip"})
	}
	if p.has(func(f *compare.ShoeFoot) bool { return len(contactEdge(f)) > 0 }) {
		items = append(items, legendItem{16, func(q canvas, at vg.Point) {
			q.line(contactEdgeWide, q.Ink, at, vg.Point{X: at.X + 16, Y: at.Y})
		}, "contact ends here, in a typical relevé"})
	}
	if len(p.Rows) == 0 {
		return items
	}
	return append(items, legendItem{6, func(q canvas, at vg.Point) { q.write(at.X, at.Y-q.Small*0.35, fromLeft, q.small(), "±") }, "95 % interval"})
}

func kernSample(meaning string) legendItem {
	return legendItem{16, func(q canvas, at vg.Point) {
		pts := []vg.Point{{X: at.X, Y: at.Y}, {X: at.X + 8, Y: at.Y + 5}, {X: at.X + 16, Y: at.Y}, {X: at.X + 8, Y: at.Y - 5}}
		q.fill(q.KernFill, pts)
		q.strokeClosed(1.3, q.Kern, nil, pts)
	}, meaning}
}

func ellipseSample(q canvas, at vg.Point) {
	pts := make([]vg.Point, 40)
	for i := range pts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 40)
		pts[i] = vg.Point{X: at.X + 10 + vg.Length(10*cos), Y: at.Y + vg.Length(5*sin)}
	}
	q.strokeClosed(0.9, q.Ink, []vg.Length{3, 2}, pts)
}

// coveredEnough is the share of a platform that the strip must cover for its edge to be
// omitted from the picture.
const coveredEnough = 0.98

func stripEdge(l *Theme) draw.LineStyle {
	return draw.LineStyle{Color: l.Quiet, Width: 0.7, Dashes: []vg.Length{0.8, 2}}
}

// has reports whether any platform of the picture meets a condition.
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

// verdictWithin returns the verdict of a shoe on a foot, in short words where the usual
// ones do not fit into the width wide.
func verdictWithin(f *compare.ShoeFoot, s style, wide vg.Length) string {
	medial := f.Measures[measure.Medial].Mean
	text := words.Verdict(f.Verdict, f.Misses, medial)
	if s.width(text) > wide {
		text = words.ShortVerdict(f.Verdict, f.Misses, medial)
	}
	return fit(text, s, wide)
}

// Describe implements Picture.
func (p *Platforms) Describe() string {
	var b strings.Builder
	b.WriteString("Platforms seen from above with the centre of pressure of every relevé.")
	for _, row := range p.Rows {
		for _, f := range row.Feet {
			if f != nil {
				over := f.Measures[measure.Over]
				fmt.Fprintf(&b, " %s, %s foot: %s, over %s.", row.Title, f.Foot,
					words.Verdict(f.Verdict, f.Misses, f.Measures[measure.Medial].Mean), words.DisplayOf(measure.Over).PlusMinus(over.Mean, over.CI95))
			}
		}
	}
	return b.String()
}
