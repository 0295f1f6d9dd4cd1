package plots

import (
	"image/color"
	"math"
	"strings"
	"unicode"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// canvas is a drawing surface with its theme. Lengths and coordinates are in points; y
// points upwards.
type canvas struct {
	draw.Canvas
	*Theme
}

// newCanvas returns a canvas that is filled with the colour of paper.
func newCanvas(c draw.Canvas, t *Theme) canvas {
	q := canvas{c, t}
	q.box(c.Rectangle, t.Paper)
	return q
}

// align is the part of a text that is to the left of its x coordinate, 0 to 1.
type align float64

const (
	fromLeft  align = 0
	centred   align = 0.5
	fromRight align = 1
)

// style is the size, weight and colour of a text.
type style struct {
	size vg.Length
	bold bool
	ink  color.NRGBA
}

func (t *Theme) small() style  { return style{t.Small, false, t.Quiet} }
func (t *Theme) text() style   { return style{t.Text, false, t.Ink} }
func (t *Theme) strong() style { return style{t.Strong, true, t.Ink} }

func (s style) face() font.Face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	if s.bold {
		f.Weight = xfont.WeightBold
	}
	return plot.DefaultTextHandler.Cache().Lookup(f, s.size)
}

func (s style) width(text string) vg.Length {
	face := s.face()
	return face.Width(text)
}

// write writes one line of text with its baseline at y.
func (q canvas) write(x, y vg.Length, a align, s style, text string) {
	if text == "" {
		return
	}
	face := s.face()
	q.SetColor(s.ink)
	q.FillString(face, vg.Point{X: x - vg.Length(a)*face.Width(text), Y: y}, text)
}

// writeOnPaper writes one line of text from left, on a box of paper that covers
// the lines below it.
func (q canvas) writeOnPaper(left, y vg.Length, s style, text string, wide vg.Length) {
	text = fit(text, s, wide)
	q.box(vg.Rectangle{Min: vg.Point{X: left, Y: y - 2}, Max: vg.Point{X: left + s.width(text) + 2, Y: y + 8}}, q.Paper)
	q.write(left, y, fromLeft, s, text)
}

// writeUpwards writes text turned by 90°, centred on y.
func (q canvas) writeUpwards(x, y vg.Length, s style, text string) {
	q.Push()
	q.Translate(vg.Point{X: x, Y: y})
	q.Rotate(math.Pi / 2)
	q.write(0, 0, centred, s, text)
	q.Pop()
}

// fit removes control characters from text and replaces its middle by an ellipsis
// where it is wider than wide. Both ends of users' codes are kept because codes
// often differ only there.
func fit(text string, s style, wide vg.Length) string {
	text = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return ' '
		}
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "�"))
	if s.width(text) <= wide {
		return text
	}
	r := []rune(text)
	for keep := len(r) - 1; keep > 0; keep-- {
		short := string(r[:(keep+1)/2]) + "…" + string(r[len(r)-keep/2:])
		if s.width(short) <= wide {
			return short
		}
	}
	return "…"
}

// wrapped joins parts into lines of at most the width wide, and shortens a part that is
// wider. It drops spaces at the ends of lines.
func wrapped(parts []string, s style, wide vg.Length) (lines []string) {
	for _, part := range parts {
		if strings.TrimSpace(part) == "" {
			continue
		}
		if n := len(lines); n > 0 && s.width(strings.TrimSpace(lines[n-1]+part)) <= wide {
			lines[n-1] += part
		} else {
			lines = append(lines, part)
		}
	}
	for i, l := range lines {
		lines[i] = fit(strings.TrimSpace(l), s, wide)
	}
	return lines
}

func (q canvas) line(w vg.Length, c color.NRGBA, pts ...vg.Point) {
	q.StrokeLines(draw.LineStyle{Color: c, Width: w}, pts)
}

func (q canvas) dashed(w vg.Length, c color.NRGBA, pts ...vg.Point) {
	q.StrokeLines(draw.LineStyle{Color: c, Width: w, Dashes: []vg.Length{3, 2}}, pts)
}

// box fills a rectangle.
func (q canvas) box(r vg.Rectangle, c color.NRGBA) {
	q.SetColor(c)
	q.Fill(r.Path())
}

// fill fills a polygon.
func (q canvas) fill(c color.NRGBA, pts []vg.Point) {
	if len(pts) > 2 {
		q.SetColor(c)
		q.Fill(closed(pts))
	}
}

// strokeClosed draws the outline of a polygon.
func (q canvas) strokeClosed(w vg.Length, c color.NRGBA, dashes []vg.Length, pts []vg.Point) {
	if len(pts) > 2 {
		q.SetLineStyle(draw.LineStyle{Color: c, Width: w, Dashes: dashes})
		q.Stroke(closed(pts))
	}
}

func closed(pts []vg.Point) vg.Path {
	var path vg.Path
	path.Move(pts[0])
	for _, p := range pts[1:] {
		path.Line(p)
	}
	path.Close()
	return path
}

// drawMark draws a mark of half-size r at a point, with a border of paper that
// separates it from grey areas. It draws nothing where the point is not a number.
func (q canvas) drawMark(m Mark, at vg.Point, r vg.Length) {
	if math.IsNaN(float64(at.X + at.Y)) {
		return
	}
	path := m.Shape.path(at, r)
	q.SetLineStyle(draw.LineStyle{Color: q.Paper, Width: 1.6})
	q.Stroke(path)
	if m.Shape >= hollow {
		q.SetColor(q.Paper)
		q.Fill(path)
		q.SetLineStyle(draw.LineStyle{Color: m.Ink, Width: 1.2})
		q.Stroke(path)
		return
	}
	q.SetColor(m.Ink)
	q.Fill(path)
}

func (s Shape) path(at vg.Point, r vg.Length) vg.Path {
	s %= hollow
	if s == Disc {
		var path vg.Path
		path.Move(vg.Point{X: at.X + r, Y: at.Y})
		path.Arc(at, r, 0, 2*math.Pi)
		path.Close()
		return path
	}
	// Corners in units of r, chosen so that all shapes have about the same area.
	corners := map[Shape][][2]vg.Length{
		Diamond:  {{0, 1.3}, {1.3, 0}, {0, -1.3}, {-1.3, 0}},
		Square:   {{0.9, 0.9}, {0.9, -0.9}, {-0.9, -0.9}, {-0.9, 0.9}},
		Triangle: {{0, 1.3}, {1.25, -0.9}, {-1.25, -0.9}},
		Cross: {{0.4, 1.2}, {0.4, 0.4}, {1.2, 0.4}, {1.2, -0.4}, {0.4, -0.4}, {0.4, -1.2},
			{-0.4, -1.2}, {-0.4, -0.4}, {-1.2, -0.4}, {-1.2, 0.4}, {-0.4, 0.4}, {-0.4, 1.2}},
		Wedge: {{0, -1.3}, {1.25, 0.9}, {-1.25, 0.9}},
	}[s]
	pts := make([]vg.Point, len(corners))
	for i, c := range corners {
		pts[i] = vg.Point{X: at.X + c[0]*r, Y: at.Y + c[1]*r}
	}
	return closed(pts)
}

// drawRing draws the hollow disc that stands for a difference.
func (q canvas) drawRing(at vg.Point) {
	path := Disc.path(at, 3)
	q.SetColor(q.Paper)
	q.Fill(path)
	q.SetLineStyle(draw.LineStyle{Color: q.Ink, Width: 1.5})
	q.Stroke(path)
}

// drawInterval draws an interval of values at height y. An end beyond the axis is
// drawn as an arrowhead at the end of the axis.
func (q canvas) drawInterval(a axis, y vg.Length, c color.NRGBA, ci [2]float64) {
	const cap = 2.5
	lo, hi := max(a.lo, min(a.hi, ci[0])), max(a.lo, min(a.hi, ci[1]))
	x0, x1 := a.at(lo), a.at(hi)
	q.line(1.6, c, vg.Point{X: x0, Y: y}, vg.Point{X: x1, Y: y})
	end := func(x, inwards vg.Length, beyond bool) {
		if beyond {
			q.fill(c, []vg.Point{{X: x, Y: y}, {X: x + inwards*5, Y: y + cap}, {X: x + inwards*5, Y: y - cap}})
			return
		}
		q.line(1.2, c, vg.Point{X: x, Y: y - cap}, vg.Point{X: x, Y: y + cap})
	}
	end(x0, 1, ci[0] < a.lo)
	end(x1, -1, ci[1] > a.hi)
}

// drawMean draws a mean as a vertical bar on its interval, which may be nil.
func (q canvas) drawMean(a axis, y vg.Length, mean float64, ci *[2]float64) {
	if ci != nil {
		q.drawInterval(a, y, q.Ink, *ci)
	}
	x := a.at(mean)
	q.box(vg.Rectangle{Min: vg.Point{X: x - 1.5, Y: y - 4}, Max: vg.Point{X: x + 1.5, Y: y + 4}}, q.Ink)
}

// hatch fills a box with diagonal lines.
func (q canvas) hatch(r vg.Rectangle, c color.NRGBA) {
	const step = 4
	h := r.Max.Y - r.Min.Y
	for x := r.Min.X - h; x < r.Max.X; x += step {
		from, to := max(x, r.Min.X), min(x+h, r.Max.X)
		if from < to {
			q.line(0.5, c, vg.Point{X: from, Y: r.Min.Y + from - x}, vg.Point{X: to, Y: r.Min.Y + to - x})
		}
	}
}
