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

// pen draws on a canvas in one look. Lengths are points, y upwards.
type pen struct {
	draw.Canvas
	*Look
}

// newPen covers the canvas with paper.
func newPen(c draw.Canvas, l *Look) pen {
	p := pen{c, l}
	p.box(c.Rectangle, l.Paper)
	return p
}

// align is the part of a text that stands left of its place.
type align float64

const (
	fromLeft  align = 0
	centred   align = 0.5
	fromRight align = 1
)

// style is a size, a weight and an ink of text.
type style struct {
	size vg.Length
	bold bool
	ink  color.NRGBA
}

func (l *Look) small() style  { return style{l.Small, false, l.Quiet} }
func (l *Look) text() style   { return style{l.Text, false, l.Ink} }
func (l *Look) strong() style { return style{l.Strong, true, l.Ink} }

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

// write sets one line of text with its baseline at y.
func (p pen) write(x, y vg.Length, a align, s style, text string) {
	if text == "" {
		return
	}
	face := s.face()
	p.SetColor(s.ink)
	p.FillString(face, vg.Point{X: x - vg.Length(a)*face.Width(text), Y: y}, text)
}

// fit shortens text in its middle until it is at most wide, and takes control
// characters out: codes come from users, and their ends often tell them apart.
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

func (p pen) line(w vg.Length, c color.NRGBA, pts ...vg.Point) {
	p.StrokeLines(draw.LineStyle{Color: c, Width: w}, pts)
}

func (p pen) dashed(w vg.Length, c color.NRGBA, pts ...vg.Point) {
	p.StrokeLines(draw.LineStyle{Color: c, Width: w, Dashes: []vg.Length{3, 2}}, pts)
}

func (p pen) box(r vg.Rectangle, c color.NRGBA) {
	p.SetColor(c)
	p.Fill(r.Path())
}

func (p pen) fill(c color.NRGBA, pts []vg.Point) {
	if len(pts) > 2 {
		p.SetColor(c)
		p.Fill(closed(pts))
	}
}

func (p pen) outline(w vg.Length, c color.NRGBA, dashes []vg.Length, pts []vg.Point) {
	if len(pts) > 2 {
		p.SetLineStyle(draw.LineStyle{Color: c, Width: w, Dashes: dashes})
		p.Stroke(closed(pts))
	}
}

func closed(pts []vg.Point) vg.Path {
	var path vg.Path
	path.Move(pts[0])
	for _, q := range pts[1:] {
		path.Line(q)
	}
	path.Close()
	return path
}

// mark draws one relevé, r being the mark's half-size, with a halo of paper
// so that it stands out of any grey. What has no place is not drawn.
func (p pen) mark(m Mark, at vg.Point, r vg.Length) {
	if math.IsNaN(float64(at.X + at.Y)) {
		return
	}
	path := m.Shape.path(at, r)
	p.SetLineStyle(draw.LineStyle{Color: p.Paper, Width: 1.6})
	p.Stroke(path)
	p.SetColor(m.Ink)
	p.Fill(path)
}

func (s Shape) path(at vg.Point, r vg.Length) vg.Path {
	if s == Disc {
		var path vg.Path
		path.Move(vg.Point{X: at.X + r, Y: at.Y})
		path.Arc(at, r, 0, 2*math.Pi)
		path.Close()
		return path
	}
	// Corners in units of r, sized so that every shape weighs about the same.
	corners := map[Shape][][2]vg.Length{
		Diamond:  {{0, 1.3}, {1.3, 0}, {0, -1.3}, {-1.3, 0}},
		Square:   {{0.9, 0.9}, {0.9, -0.9}, {-0.9, -0.9}, {-0.9, 0.9}},
		Triangle: {{0, 1.3}, {1.25, -0.9}, {-1.25, -0.9}},
		Cross: {{0.4, 1.2}, {0.4, 0.4}, {1.2, 0.4}, {1.2, -0.4}, {0.4, -0.4}, {0.4, -1.2},
			{-0.4, -1.2}, {-0.4, -0.4}, {-1.2, -0.4}, {-1.2, 0.4}, {-0.4, 0.4}, {-0.4, 1.2}},
		Bar: {{0.5, 1.3}, {0.5, -1.3}, {-0.5, -1.3}, {-0.5, 1.3}},
	}[s]
	pts := make([]vg.Point, len(corners))
	for i, c := range corners {
		pts[i] = vg.Point{X: at.X + c[0]*r, Y: at.Y + c[1]*r}
	}
	return closed(pts)
}

// interval draws the line from lo to hi at height y. An end beyond the axis is
// drawn as an arrow there.
func (p pen) interval(a axis, y vg.Length, c color.NRGBA, ci [2]float64) {
	const cap = 2.5
	lo, hi := max(a.lo, min(a.hi, ci[0])), max(a.lo, min(a.hi, ci[1]))
	x0, x1 := a.at(lo), a.at(hi)
	p.line(1.6, c, vg.Point{X: x0, Y: y}, vg.Point{X: x1, Y: y})
	end := func(x, inwards vg.Length, cut bool) {
		if cut {
			p.fill(c, []vg.Point{{X: x, Y: y}, {X: x + inwards*5, Y: y + cap}, {X: x + inwards*5, Y: y - cap}})
			return
		}
		p.line(1.2, c, vg.Point{X: x, Y: y - cap}, vg.Point{X: x, Y: y + cap})
	}
	end(x0, 1, ci[0] < a.lo)
	end(x1, -1, ci[1] > a.hi)
}

// hatch fills a box with slanting lines.
func (p pen) hatch(r vg.Rectangle, c color.NRGBA) {
	const step = 4
	h := r.Max.Y - r.Min.Y
	for x := r.Min.X - h; x < r.Max.X; x += step {
		from, to := max(x, r.Min.X), min(x+h, r.Max.X)
		if from < to {
			p.line(0.5, c, vg.Point{X: from, Y: r.Min.Y + from - x}, vg.Point{X: to, Y: r.Min.Y + to - x})
		}
	}
}

// axis maps values to places along a line of the canvas.
type axis struct {
	lo, hi   float64
	from, to vg.Length
}

func (a axis) at(v float64) vg.Length {
	return a.from + (a.to-a.from)*vg.Length((v-a.lo)/(a.hi-a.lo))
}

// ticks returns labelled ticks at multiples of 1, 2 or 5 times a power of ten,
// as many as fit at least apart.
func (a axis) ticks(apart vg.Length) []plot.Tick {
	least := (a.hi - a.lo) * float64(apart/(a.to-a.from))
	power := math.Floor(math.Log10(least))
	step := math.Pow(10, power+1)
	for _, m := range []float64{1, 2, 5} {
		if m*math.Pow(10, power) >= least*(1-1e-9) {
			step = m * math.Pow(10, power)
			break
		}
	}
	var out []plot.Tick
	for i := math.Ceil(a.lo/step - 1e-9); i*step <= a.hi+1e-9*step; i++ {
		out = append(out, plot.Tick{Value: i * step, Label: Number(i*step, max(0, -int(math.Floor(math.Log10(step)+1e-9))))})
	}
	return out
}

// legend is one line or more of samples with their meaning.
type legend []legendItem

type legendItem struct {
	wide   vg.Length // of the sample
	sample func(p pen, left vg.Point)
	text   string
}

const (
	legendLine = 14
	legendGap  = 5
	legendRoom = 14
)

// lines breaks the items to lines at most wide.
func (l legend) lines(s style, wide vg.Length) []legend {
	var out []legend
	var x vg.Length
	for _, item := range l {
		w := item.wide + legendGap + s.width(item.text)
		if len(out) == 0 || x+w > wide {
			out, x = append(out, nil), 0
		}
		out[len(out)-1] = append(out[len(out)-1], item)
		x += w + legendRoom
	}
	return out
}

func (l legend) height(s style, wide vg.Length) vg.Length {
	return legendLine * vg.Length(len(l.lines(s, wide)))
}

// draw puts the legend under top; a sample gets the middle of its left edge.
func (l legend) draw(p pen, left, top, wide vg.Length) {
	s := p.small()
	for i, line := range l.lines(s, wide) {
		x, y := left, top-legendLine*vg.Length(i)-legendLine/2
		for _, item := range line {
			item.sample(p, vg.Point{X: x, Y: y})
			x += item.wide + legendGap
			p.write(x, y-s.size*0.35, fromLeft, s, item.text)
			x += s.width(item.text) + legendRoom
		}
	}
}
