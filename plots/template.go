package plots

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// Template is a sheet of paper in actual size for mounting strips under a shoe: the area
// of the cells with the tail, the outline of the platform, its kern and the axes through
// its centroid, for one foot or both, and two bars of a known length for checking a
// printout. Each foot is seen from above, like a shoe standing on the sheet.
//
// The sheet is as wide as A4 and as high as Letter, so that it prints on both without
// scaling.
type Template struct {
	Theme  Theme
	Shoe   *device.Shoe
	Strips [2]*device.Strip // by foot; nil for a foot without one
}

const (
	sheetWide      = 210 * vg.Millimeter   // width of A4
	sheetHigh      = 279.4 * vg.Millimeter // height of Letter
	sheetMargin    = 15 * vg.Millimeter    // no common printer needs more
	templateHead   = 82 * vg.Millimeter    // title, bars and steps
	templateText   = 26 * vg.Millimeter    // the text below a foot
	templateGap    = 6 * vg.Millimeter     // between the feet
	templateLabel  = 5 * vg.Millimeter     // around a drawing, for the names of its sides
	tailLongMM     = 14                    // length of the drawn part of a tail
	tailWideMM     = 12                    // its width where the strip is wide enough
	templateLine   = 0.8                   // width of the lines that measure, points
	templateBarOff = 0.5                   // mm by which a bar may be off
)

// TemplateBarMM is the length of each bar of a Template, mm.
const TemplateBarMM = 50

// NewTemplate returns the template of a shoe for strips, by foot. It returns an error
// where the drawing does not fit on a sheet.
func NewTemplate(shoe *device.Shoe, strips [2]*device.Strip) (*Template, error) {
	p := &Template{DefaultTheme(), shoe, strips}
	width, height := p.room()
	for _, foot := range device.Feet {
		if strips[foot] == nil {
			continue
		}
		lo, hi := p.bounds(foot)
		if w, h := vg.Length(hi[0]-lo[0])*vg.Millimeter, vg.Length(hi[1]-lo[1])*vg.Millimeter; w > width || h > height {
			return nil, fmt.Errorf("strip %s with shoe %s takes %.0f × %.0f mm, and the sheet has %.0f × %.0f mm for a foot",
				strips[foot].Name, shoe.Code, hi[0]-lo[0], hi[1]-lo[1], width/vg.Millimeter, height/vg.Millimeter)
		}
	}
	return p, nil
}

// room returns the width and the height available for the drawing of a foot.
func (p *Template) room() (width, height vg.Length) {
	width = sheetWide - 2*sheetMargin
	if p.Strips[device.Left] != nil && p.Strips[device.Right] != nil {
		width = (width - templateGap) / 2
	}
	return width - 2*templateLabel, sheetHigh - 2*sheetMargin - templateHead - templateText - 2*templateLabel
}

// bounds returns the smallest rectangle around platform, strip and tail of a foot, in
// the frame of the platform, mm.
func (p *Template) bounds(foot device.Foot) (lo, hi platform.Point) {
	all := append(p.Shoe.Outline(), p.Strips[foot].Outline()...)
	return append(all, tail(p.Strips[foot])...).Bounds()
}

// tail returns the outline of the drawn part of a strip's tail in the frame of the
// platform, mm; nil where the profile does not specify its side.
func tail(s *device.Strip) platform.Polygon {
	d := s.Mount.TailDirection()
	if d == (platform.Point{}) {
		return nil
	}
	along, across := float64(s.Cols)*s.PitchMM[0]/2, float64(s.Rows)*s.PitchMM[1]/2
	if d[0] == 0 {
		along, across = across, along
	}
	half := min(tailWideMM/2, across)
	corner := func(out, side float64) platform.Point {
		return s.ToPlatform(platform.Point{d[0]*out - d[1]*side, d[1]*out + d[0]*side})
	}
	return platform.Polygon{corner(along, -half), corner(along+tailLongMM, -half), corner(along+tailLongMM, half), corner(along, half)}
}

// Size implements Picture.
func (p *Template) Size() (width, height vg.Length) { return sheetWide, sheetHigh }

// Draw implements Picture.
func (p *Template) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, top := c.Min.X+sheetMargin, c.Max.X-sheetMargin, c.Max.Y-sheetMargin
	p.drawHead(q, left, right, top)
	width, height := p.room()
	x := left + templateLabel + width/2
	y := top - templateHead - templateLabel - height/2
	for _, foot := range device.Feet {
		if p.Strips[foot] == nil {
			continue
		}
		p.drawFoot(q, foot, vg.Point{X: x, Y: y}, width)
		x = right - templateLabel - width/2
	}
	q.write(left, c.Min.Y+sheetMargin, fromLeft, q.small(), "Seen from above, as the shoe stands on the sheet. "+
		"Blue: the kern, and the axes through the platform's middle.")
}

// drawHead draws the title, the bars and the instructions.
func (p *Template) drawHead(q canvas, left, right, top vg.Length) {
	title := style{15, true, q.Ink}
	q.write(left, top-15, fromLeft, title, fit("Strips under shoe "+p.Shoe.Code, title, right-left))
	bold := style{q.Strong, true, q.Ink}
	q.write(left, top-33, fromLeft, bold, "Print at 100 %, no scaling. The sheet fits on A4 and on Letter.")

	const thick = 1.2 * vg.Millimeter
	length := TemplateBarMM * vg.Millimeter
	foot := top - 22*vg.Millimeter - length // of the upright bar
	q.box(vg.Rectangle{Min: vg.Point{X: left, Y: foot}, Max: vg.Point{X: left + thick, Y: foot + length}}, q.Ink)
	q.box(vg.Rectangle{Min: vg.Point{X: left, Y: foot}, Max: vg.Point{X: left + length, Y: foot + thick}}, q.Ink)
	q.write(left+thick+5, foot+thick+6, fromLeft, q.text(), fmt.Sprintf("each bar %d mm: measure first", TemplateBarMM))

	x, y := left+length+10*vg.Millimeter, top-24*vg.Millimeter
	for i, step := range p.steps() {
		q.write(x, y, fromLeft, q.text(), fmt.Sprintf("%d.", i+1))
		for _, line := range q.wrapped(step, q.text(), right-x-14) {
			q.write(x+14, y, fromLeft, q.text(), line)
			y -= 12
		}
		y -= 4
	}
}

func (p *Template) steps() []string {
	cut := "Cut the strip's piece out along the broken line, the edge of the cells."
	if slices.ContainsFunc(p.Strips[:], func(s *device.Strip) bool { return s != nil && s.Mount.TailSide != "" }) {
		cut = "Cut the strip's piece out along the broken line: the edge of the cells, and the tail as a tab."
	}
	lay := "Lay the piece on the strip, printed side up, edge on edge with the cells, its front to the strip's front."
	if p.Strips[device.Left] != nil && p.Strips[device.Right] != nil {
		lay += " The left foot's piece is for the left strip."
	}
	return []string{
		fmt.Sprintf("Measure both bars with the ruler that measured the shoe. Use the sheet only where each is %d mm long, to within %s mm.", TemplateBarMM, words.Number(templateBarOff, 1)),
		cut,
		lay,
		"Set the platform on its outline, the big toe at its mark. The ends of the cross show the middle of each side.",
		"Hold the strip there, draw the piece out, and fix the strip: aplomb guide fixing.",
	}
}

// drawFoot draws one foot with the middle of its drawing at a point.
func (p *Template) drawFoot(q canvas, foot device.Foot, middle vg.Point, width vg.Length) {
	s, outline := p.Strips[foot], p.Shoe.Outline()
	lo, hi := p.bounds(foot)
	v := projection{scale: vg.Millimeter, foot: foot}
	towards := v.at(platform.Point{(lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2})
	v.origin = vg.Point{X: middle.X - towards.X, Y: middle.Y - towards.Y}

	for row := range s.Rows {
		for col := range s.Cols {
			q.strokeClosed(0.3, q.Hairline, nil, v.points(s.CellOutline(row, col)))
		}
	}
	kern := v.points(outline.Kern())
	q.fill(q.KernFill, kern)
	q.strokeClosed(templateLine, q.Kern, nil, kern)
	for _, axis := range [2]platform.Point{{1, 0}, {0, 1}} {
		from, to := across(s.Outline(), axis)
		q.line(0.4, q.Kern, v.at(from), v.at(to))
	}
	p.nameSides(q, v, outline, s)
	cut := []vg.Length{4, 2}
	q.strokeClosed(templateLine, q.Quiet, cut, v.points(s.Outline()))
	if t := v.points(tail(s)); len(t) > 0 {
		q.line(2*templateLine, q.Paper, t[0], t[3]) // no cut between the strip and its tail
		q.StrokeLines(draw.LineStyle{Color: q.Quiet, Width: templateLine, Dashes: cut}, t)
	}
	q.strokeClosed(templateLine, q.Ink, nil, v.points(outline))

	p.drawText(q, foot, middle.X, middle.Y-vg.Length(hi[1]-lo[1])/2*v.scale-templateLabel, width+2*templateLabel)
}

// across returns the points at which the line through the origin along a direction
// crosses a convex outline; the origin twice where it lies outside.
func across(outline platform.Polygon, d platform.Point) (from, to platform.Point) {
	if !outline.Contains(platform.Point{}) {
		return from, to
	}
	back, ahead := outline.Reach(platform.Point{-d[0], -d[1]}), outline.Reach(d)
	return platform.Point{-d[0] * back, -d[1] * back}, platform.Point{d[0] * ahead, d[1] * ahead}
}

// nameSides writes the names of the platform's sides inside its outline, so that they
// remain on the piece that is cut out, and names the tail.
func (p *Template) nameSides(q canvas, v projection, outline platform.Polygon, s *device.Strip) {
	tiny := style{7, false, q.Quiet}
	inside := func(at platform.Point, text string) {
		c := v.at(at)
		half := tiny.width(text) / 2
		q.box(vg.Rectangle{Min: vg.Point{X: c.X - half - 1, Y: c.Y - 4}, Max: vg.Point{X: c.X + half + 1, Y: c.Y + 4}}, q.Paper)
		q.write(c.X, c.Y-2.5, centred, tiny, text)
	}
	lo, hi := outline.Bounds()
	const share = 0.7 // of the way to the edge
	inside(platform.Point{0, share * hi[1]}, "front")
	inside(platform.Point{share * hi[0], 0}, "big toe")
	inside(platform.Point{0, share * lo[1]}, fit(s.Foot.String()+", "+s.Name, tiny, vg.Length(hi[0]-lo[0])*share*v.scale))
	if t := tail(s); t != nil {
		inside(t.Moments().Centroid, "tail")
	}
}

// drawText writes the description of a foot's drawing below it.
func (p *Template) drawText(q canvas, foot device.Foot, middle, top, width vg.Length) {
	s := p.Strips[foot]
	q.write(middle, top-12, centred, q.strong(), fit(foot.String()+" foot, strip "+s.Name, q.strong(), width))
	size := p.Shoe.Size()
	lines := []string{
		fmt.Sprintf("platform %s × %s mm, cells %s × %s mm", words.Number(size[0], 1), words.Number(size[1], 1),
			words.Number(float64(s.Cols)*s.PitchMM[0], 1), words.Number(float64(s.Rows)*s.PitchMM[1], 1)),
		p.marginText(foot),
	}
	if s.Mount.TailSide == "" {
		lines = append(lines, "its profile has no tail_side: no tail is drawn")
	}
	y := top - 26
	for _, text := range lines {
		for _, line := range q.wrapped(text, q.small(), width) {
			q.write(middle, y, centred, q.small(), line)
			y -= 11
		}
	}
}

// marginText returns how far the cells reach beyond the platform on the narrowest side,
// in words.
func (p *Template) marginText(foot device.Foot) string {
	m := p.Strips[foot].Margins(p.Shoe.Outline())
	least := min(m[0][0], m[0][1], m[1][0], m[1][1])
	mm := words.Number(math.Abs(least), 1)
	if least < 0 {
		return "platform up to " + mm + " mm beyond the cells"
	}
	return "cells " + mm + " mm or more beyond the platform"
}

// wrapped breaks text into lines that are at most wide.
func (q canvas) wrapped(text string, s style, wide vg.Length) (lines []string) {
	line := ""
	for _, word := range strings.Fields(text) {
		longer := strings.TrimPrefix(line+" "+word, " ")
		if line != "" && s.width(longer) > wide {
			lines = append(lines, line)
			longer = word
		}
		line = longer
	}
	return append(lines, line)
}

// Describe implements Picture.
func (p *Template) Describe() string {
	var feet []string
	for _, foot := range device.Feet {
		if s := p.Strips[foot]; s != nil {
			feet = append(feet, fmt.Sprintf("strip %s under the %s foot, %s", s.Name, foot, p.marginText(foot)))
		}
	}
	return fmt.Sprintf("Template in actual size for shoe %s: %s.", p.Shoe.Code, strings.Join(feet, "; "))
}
