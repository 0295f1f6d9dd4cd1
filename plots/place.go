package plots

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// Place shows where the load sits in each shoe: every platform to one scale, with its
// kern and one large mark at the mean centre of pressure, in the ellipse that is its 95 %
// region along both axes (see compare.ShoeFoot.Region95). Below the mark are the relevés
// as dots, joined by lines to the mean of their mounting where there are several. Shoes
// are side by side, up to four in a row, the left feet above the right feet; a single
// shoe has its feet side by side. The view is from above through the foot, front up.
//
// With the zero value of the options it is the picture for a page about measurement.
// Fields may be changed after NewPlace.
type Place struct {
	Theme Theme
	Rows  []PlatformRow // the shoes, in the order in which they are drawn

	Wide     vg.Length // of the picture; 0 is 16 cm. Platforms grow with it up to twice their size
	Plain    bool      // for a dancer: the kern is the target zone, there are no numbers, and the ellipse shows the verdict (see compare.ShoeFoot.Ring)
	NoLegend bool      // for a page that explains the symbols itself; the bar of 10 mm stays

	scaleOfAll vg.Length // of pictures to one scale, see Each; 0 for the largest that fits
}

// NewPlace returns the picture of every shoe of a comparison.
func NewPlace(c *compare.Comparison) *Place {
	p := NewPlatforms(c)
	return &Place{Theme: p.Theme, Rows: p.Rows}
}

// Each returns a picture of each shoe, one below the other, all of one width and to one
// scale. The last one has the legend.
func (p *Place) Each(wide vg.Length) (all []*Place) {
	scale := vg.Length(placeMaxScale)
	for i := range p.Rows {
		one := *p
		one.Rows, one.Wide, one.NoLegend = p.Rows[i:i+1], wide, p.NoLegend || i+1 < len(p.Rows)
		scale = min(scale, one.scale())
		all = append(all, &one)
	}
	for _, one := range all {
		one.scaleOfAll = scale
	}
	return all
}

const (
	placeWide     = 16 * vg.Centimeter
	placeColumns  = 4 // shoes side by side
	placeMargin   = 8
	placeGap      = 16                 // between columns
	placeMaxScale = 2 * vg.Inch / 25.4 // points a mm: twice the size of the platform
	placeFootHead = 15
	placeHead     = 18 // the line with the shoe's name
	placeLine     = 11 // a line of text
	placeVerdict  = 15 // from the sides' names to the baseline of the verdict
	placeRowGap   = 10
	placeBlockGap = 10
)

func (p *Place) wide() vg.Length {
	if p.Wide > 0 {
		return p.Wide
	}
	return placeWide
}

// placeCell is one platform of the picture: a shoe on a foot.
type placeCell struct {
	row  *PlatformRow
	foot device.Foot
}

// placeBlock is up to placeColumns shoes: lines of cells, with the same number of columns.
type placeBlock struct {
	rows  []*PlatformRow // the heading of each column; one over all columns for a single shoe
	lines [][]placeCell
}

// blocks arranges the shoes. It omits feet on which no shoe of a block was recorded.
func (p *Place) blocks() (out []placeBlock) {
	for from := 0; from < len(p.Rows); from += placeColumns {
		var b placeBlock
		for i := from; i < min(from+placeColumns, len(p.Rows)); i++ {
			b.rows = append(b.rows, &p.Rows[i])
		}
		for _, foot := range device.Feet {
			if !slices.ContainsFunc(b.rows, func(r *PlatformRow) bool { return r.Feet[foot] != nil }) {
				continue
			}
			var line []placeCell
			for _, r := range b.rows {
				line = append(line, placeCell{r, foot})
			}
			b.lines = append(b.lines, line)
		}
		if len(p.Rows) == 1 && len(b.lines) == 2 {
			b.lines = [][]placeCell{{b.lines[0][0], b.lines[1][0]}}
		}
		out = append(out, b)
	}
	return out
}

// columns returns the number of columns, which is that of the first block.
func (p *Place) columns() int {
	if b := p.blocks(); len(b) > 0 && len(b[0].lines) > 0 {
		return len(b[0].lines[0])
	}
	return 1
}

func (p *Place) column() vg.Length {
	n := vg.Length(p.columns())
	return (p.wide() - 2*placeMargin - (n-1)*placeGap) / n
}

// scale returns the size of one mm of platform, in points.
func (p *Place) scale() vg.Length {
	if p.scaleOfAll > 0 {
		return p.scaleOfAll
	}
	wide, _ := extent(p.Rows...)
	return min(p.column()/vg.Length(wide), placeMaxScale)
}

// heading returns the shoe's name and description, in lines that fit into a width.
func (p *Place) heading(r *PlatformRow, wide vg.Length) (title string, facts []string) {
	return fit(r.Title, p.Theme.strong(), wide-14), wrapped(strings.SplitAfter(r.Facts, ", "), p.Theme.small(), wide)
}

// headHeight returns the height of the headings of a block.
func (p *Place) headHeight(b placeBlock) vg.Length {
	most := 0
	for _, r := range b.rows {
		_, facts := p.heading(r, p.headWidth(b))
		most = max(most, len(facts))
	}
	return placeHead + placeLine*vg.Length(most) + 4
}

// headWidth returns the width of a heading: that of the picture for a single shoe.
func (p *Place) headWidth(b placeBlock) vg.Length {
	if len(b.rows) == 1 && len(p.Rows) == 1 {
		return p.wide() - 2*placeMargin
	}
	return p.column()
}

// texts returns the lines below a platform: the verdict, and the position in numbers.
func (p *Place) texts(f *compare.ShoeFoot) (verdict, numbers []string) {
	if p.Plain && f.Verdict == measure.TooCloseToCall {
		return []string{words.NotYetSure}, nil
	}
	verdict = verdictLines(f, p.Theme.strong(), p.column())
	if p.Plain {
		return verdict, nil
	}
	return verdict, wrapped(strings.SplitAfter(placeNumbers(f), ", "), p.Theme.text(), p.column())
}

// placeNumbers returns the mean position with its intervals in words.
func placeNumbers(f *compare.ShoeFoot) string {
	var parts []string
	for _, axis := range []struct {
		name string
		of   measure.Measure
	}{{"over", measure.Over}, {"medial", measure.Medial}} {
		if s, ok := f.Measures[axis.of]; ok {
			parts = append(parts, axis.name+" "+words.DisplayOf(axis.of).PlusMinus(s.Mean, s.CI95))
		}
	}
	return strings.Join(parts, ", ")
}

// depth returns the depth of the deepest platform of a line, on the paper.
func (p *Place) depth(line []placeCell) vg.Length {
	deep := 0.0
	for _, c := range line {
		_, d := extent(*c.row)
		deep = max(deep, d)
	}
	return vg.Length(deep) * p.scale()
}

// lineHeight returns the height of a line of cells.
func (p *Place) lineHeight(line []placeCell) vg.Length {
	texts := 0
	for _, c := range line {
		if f := c.row.Feet[c.foot]; f != nil {
			verdict, numbers := p.texts(f)
			texts = max(texts, len(verdict)+len(numbers))
		}
	}
	return placeFootHead + 2*sideLabel + p.depth(line) + placeVerdict + placeLine*vg.Length(max(0, texts-1)) + placeRowGap
}

// Size implements Picture.
func (p *Place) Size() (width, height vg.Length) {
	h := vg.Length(2 * placeMargin)
	for _, b := range p.blocks() {
		h += p.headHeight(b) + placeBlockGap
		for _, line := range b.lines {
			h += p.lineHeight(line)
		}
	}
	if p.Plain {
		h -= placeBlockGap // below the legend
	}
	return p.wide(), h + p.legend().height(p.Theme.small(), p.wide()-2*placeMargin)
}

// Draw implements Picture.
func (p *Place) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, y := c.Min.X+placeMargin, c.Max.Y-placeMargin
	for _, b := range p.blocks() {
		for i, r := range b.rows {
			x := left + vg.Length(i)*(p.column()+placeGap)
			title, facts := p.heading(r, p.headWidth(b))
			q.drawMark(r.Mark, vg.Point{X: x + 5, Y: y - 8}, 3.6)
			q.write(x+14, y-12, fromLeft, q.strong(), title)
			for k, text := range facts {
				q.write(x, y-placeHead-placeLine*vg.Length(k)-8, fromLeft, q.small(), text)
			}
		}
		y -= p.headHeight(b)
		for _, line := range b.lines {
			for i, cell := range line {
				p.drawCell(q, cell, left+vg.Length(i)*(p.column()+placeGap), y, i == 0 || p.Plain || len(p.Rows) == 1, line)
			}
			y -= p.lineHeight(line)
		}
		y -= placeBlockGap
	}
	p.legend().draw(q, left, y+placeBlockGap-2, p.wide()-2*placeMargin)
}

func (p *Place) drawCell(q canvas, c placeCell, left, top vg.Length, named bool, line []placeCell) {
	middle := left + p.column()/2
	if named {
		name := style{q.Text, true, q.Quiet}
		if p.Plain {
			name = q.strong()
		}
		q.write(left, top-10, fromLeft, name, c.foot.String()+" foot")
	}
	origin := vg.Point{X: middle, Y: top - placeFootHead - sideLabel - p.depth(line)/2}
	f := c.row.Feet[c.foot]
	if f == nil {
		q.write(origin.X, origin.Y, centred, q.small(), "not recorded")
		return
	}
	v := projection{origin, p.scale(), c.foot}
	outline, kern := simplify(f.Platform.Outline), simplify(f.Platform.Kern)
	q.fill(q.Faint, v.points(outline))
	q.fill(q.KernFill, v.points(kern))
	q.strokeClosed(1.3, q.Kern, nil, v.points(kern))
	q.strokeClosed(2, q.Ink, nil, v.points(outline))
	p.drawReleves(q, f, c.row.Mark, v)
	p.drawMean(q, f, c.row.Mark, v)
	if p.Plain { // the names of all shoes at one height
		lo, hi := f.Platform.Outline.Bounds()
		q.namesOfSides(v, platform.Point{max(-lo[0], hi[0]), float64(p.depth(line)/v.scale) / 2}, p.column())
	} else {
		q.platformSides(f, v, p.column())
	}
	verdict, numbers := p.texts(f)
	at := origin.Y - p.depth(line)/2 - sideLabel - placeVerdict + 1
	for _, text := range verdict {
		q.write(middle, at, centred, q.strong(), text)
		at -= placeLine
	}
	for _, text := range numbers {
		q.write(middle, at, centred, q.text(), text)
		at -= placeLine
	}
}

// drawReleves draws a dot at each relevé. Where there are several mountings, each has the
// mean of its relevés as a hollow mark, and a line from there to each of them.
func (p *Place) drawReleves(q canvas, f *compare.ShoeFoot, m Mark, v projection) {
	groups := mountingsOf(f)
	if len(groups) > 1 && !p.Plain {
		for _, g := range groups {
			for _, r := range g {
				q.line(0.6, q.Quiet, v.at(meanOf(g)), v.at(r))
			}
		}
	}
	for _, g := range groups {
		for _, r := range g {
			q.dot(v.at(r))
		}
	}
	if len(groups) > 1 && !p.Plain {
		for _, g := range groups {
			q.drawHollow(m, v.at(meanOf(g)))
		}
	}
}

// mountingsOf returns the places of the relevés of each mounting, medial and over in mm.
func mountingsOf(f *compare.ShoeFoot) [][]platform.Point {
	var out [][]platform.Point
	index := map[int]int{}
	for i, r := range f.Releves {
		if r.Hold == nil || math.IsNaN(r.MedialMM+r.OverMM) || math.IsInf(r.MedialMM+r.OverMM, 0) {
			continue
		}
		mounting := 0
		if i < len(f.Mounting) {
			mounting = f.Mounting[i]
		}
		k, met := index[mounting]
		if !met {
			k = len(out)
			index[mounting] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], platform.Point{r.MedialMM, r.OverMM})
	}
	return out
}

func meanOf(points []platform.Point) (mean platform.Point) {
	for _, r := range points {
		mean[0] += r[0] / float64(len(points))
		mean[1] += r[1] / float64(len(points))
	}
	return mean
}

// place returns the mean centre of pressure of a shoe on a foot, mm.
func place(f *compare.ShoeFoot) (at platform.Point, ok bool) {
	over, ok1 := f.Measures[measure.Over]
	medial, ok2 := f.Measures[measure.Medial]
	return platform.Point{medial.Mean, over.Mean}, ok1 && ok2
}

// region returns the half-widths of the ellipse around the mean: its 95 % region, in plain
// words the ring that shows the verdict.
func (p *Place) region(f *compare.ShoeFoot) (half platform.Point, ok bool) {
	if p.Plain {
		return f.Ring()
	}
	return f.Region95()
}

// regionOf returns the 95 % region of the mean as a closed curve, medial and over in mm;
// nil where it is not known.
func regionOf(f *compare.ShoeFoot) platform.Polygon {
	half, known := f.Region95()
	return aroundMean(f, half, known)
}

// aroundMean returns the ellipse with the given half-widths around the mean as a closed curve,
// nil where they are not known.
func aroundMean(f *compare.ShoeFoot, half platform.Point, known bool) platform.Polygon {
	at, ok := place(f)
	if !ok || !known {
		return nil
	}
	curve := make(platform.Polygon, 96)
	for i := range curve {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(curve)))
		curve[i] = platform.Point{at[0] + half[0]*cos, at[1] + half[1]*sin}
	}
	return curve
}

// drawMean draws the mark of the mean in its region. It omits parts of the region more
// than 2 mm outside the platform.
func (p *Place) drawMean(q canvas, f *compare.ShoeFoot, m Mark, v projection) {
	at, ok := place(f)
	if !ok {
		return
	}
	lo, hi := f.Platform.Outline.Bounds()
	window := platform.Polygon{{lo[0] - 2, lo[1] - 2}, {hi[0] + 2, lo[1] - 2}, {hi[0] + 2, hi[1] + 2}, {lo[0] - 2, hi[1] + 2}}
	if half, known := p.region(f); known {
		for _, part := range stretchesWithin(densify(aroundMean(f, half, known)), window) {
			q.drawRegion(m, v.points(part))
		}
	}
	q.drawMark(m, v.at(at), p.meanSize(f))
}

// meanSize returns the half-size of the mark of a mean: small enough to leave its region and
// the relevés around it visible.
func (p *Place) meanSize(f *compare.ShoeFoot) vg.Length {
	least, most, share := vg.Length(2.4), vg.Length(4.6), vg.Length(0.6)
	if p.Plain {
		least, most, share = 1.9, 3.2, 0.4
	}
	half, ok := p.region(f)
	if !ok {
		return most
	}
	return max(least, min(most, share*vg.Length(min(half[0], half[1]))*p.scale()))
}

// hasRegion reports whether the region of a mean is drawn.
func (p *Place) hasRegion(f *compare.ShoeFoot) bool {
	_, ok := p.region(f)
	return ok
}

// drawRegion draws the edge of a region in the colour of a mark.
func (q canvas) drawRegion(m Mark, pts []vg.Point) { q.line(1.4, m.Ink, pts...) }

// dot draws a relevé in the background.
func (q canvas) dot(at vg.Point) {
	q.SetColor(q.Quiet)
	q.Fill(Disc.path(at, 1.3))
}

// drawHollow draws the outline of a mark.
func (q canvas) drawHollow(m Mark, at vg.Point) {
	path := m.Shape.path(at, 2.4)
	q.SetColor(q.Paper)
	q.Fill(path)
	q.SetLineStyle(draw.LineStyle{Color: m.Ink, Width: 1.1})
	q.Stroke(path)
}

func (p *Place) legend() legend {
	if len(p.Rows) == 0 {
		return nil
	}
	l := legend{barSample(p.scale())}
	if p.NoLegend {
		return l
	}
	mean, region, releve, mounting := "mean", "mean in its 95 % region", "one relevé", "relevés of one mounting, with their mean"
	m, wide, high := p.Rows[0].Mark, vg.Length(11), vg.Length(6)
	target := kernSample(words.Kern)
	if p.Plain {
		mean, region, releve = "mark: where the weight was", "mark: where the weight was; ring: how far off that may be", "dot: one rise onto pointe"
		m, wide, high = Mark{Disc, p.Theme.Ink}, 7, 7
		target = p.targetSample()
	}
	l = append(l, target)
	dot := legendItem{5, func(q canvas, at vg.Point) { q.dot(vg.Point{X: at.X + 2.5, Y: at.Y}) }, releve}
	if p.Plain {
		l = append(l, dot)
	}
	hasRegion, several := false, false
	for _, row := range p.Rows {
		for _, f := range row.Feet {
			if f != nil {
				hasRegion = hasRegion || p.hasRegion(f)
				several = several || !p.Plain && len(mountingsOf(f)) > 1
			}
		}
	}
	if !hasRegion {
		l = append(l, legendItem{10, func(q canvas, at vg.Point) { q.drawMark(m, vg.Point{X: at.X + 5, Y: at.Y}, 3.4) }, mean})
	} else {
		l = append(l, legendItem{2*wide + 2, func(q canvas, at vg.Point) {
			pts := make([]vg.Point, 41)
			for i := range pts {
				sin, cos := math.Sincos(2 * math.Pi * float64(i) / 40)
				pts[i] = vg.Point{X: at.X + wide + 1 + wide*vg.Length(cos), Y: at.Y + high*vg.Length(sin)}
			}
			q.drawRegion(m, pts)
			q.drawMark(m, vg.Point{X: at.X + wide + 1, Y: at.Y}, 3.4)
		}, region})
	}
	switch {
	case p.Plain:
		return l
	case !several:
		return append(l, dot)
	}
	return append(l, legendItem{22, func(q canvas, at vg.Point) {
		middle := vg.Point{X: at.X + 11, Y: at.Y}
		for _, d := range []vg.Point{{X: -10, Y: 2}, {X: 9, Y: 4}, {X: 7, Y: -4}} {
			q.line(0.6, q.Quiet, middle, middle.Add(d))
			q.dot(middle.Add(d))
		}
		q.drawHollow(m, middle)
	}, mounting})
}

// targetSample is the kern as it is drawn, small.
func (p *Place) targetSample() legendItem {
	const wide = 20
	var kern platform.Polygon
	for _, f := range p.Rows[0].Feet {
		if f != nil {
			kern = simplify(f.Platform.Kern)
		}
	}
	lo, hi := kern.Bounds()
	return legendItem{wide, func(q canvas, at vg.Point) {
		pts := make([]vg.Point, len(kern))
		for i, k := range kern {
			pts[i] = vg.Point{X: at.X + vg.Length((k[0]-lo[0])/(hi[0]-lo[0]))*wide, Y: at.Y + vg.Length((k[1]-(lo[1]+hi[1])/2)/(hi[0]-lo[0]))*wide}
		}
		q.fill(q.KernFill, pts)
		q.strokeClosed(1.3, q.Kern, nil, pts)
	}, words.TargetZone}
}

// barSample is a bar that is as long as 10 mm of platform, at a scale in points a mm.
func barSample(scale vg.Length) legendItem {
	long := 10 * scale
	return legendItem{long, func(q canvas, at vg.Point) {
		q.line(1.4, q.Ink, at, vg.Point{X: at.X + long, Y: at.Y})
		for _, x := range []vg.Length{at.X, at.X + long} {
			q.line(1.4, q.Ink, vg.Point{X: x, Y: at.Y - 3}, vg.Point{X: x, Y: at.Y + 3})
		}
	}, "10 mm"}
}

// Describe implements Picture.
func (p *Place) Describe() string {
	var b strings.Builder
	if p.Plain {
		b.WriteString("Where the weight was in each shoe: the platforms to one scale, seen from above.")
	} else {
		b.WriteString("Where the load sits in each shoe: the platforms to one scale, seen from above.")
	}
	for _, row := range p.Rows {
		for _, f := range row.Feet {
			if f == nil {
				continue
			}
			said := words.Verdict(f.Verdict, f.Misses, f.Measures[measure.Medial].Mean)
			if p.Plain && f.Verdict == measure.TooCloseToCall {
				said = words.NotYetSure
			}
			fmt.Fprintf(&b, " %s, %s foot: %s", row.Title, f.Foot, said)
			if numbers := placeNumbers(f); numbers != "" && !p.Plain {
				b.WriteString(", " + numbers)
			}
			b.WriteString(".")
		}
	}
	return b.String()
}
