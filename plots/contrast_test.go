package plots_test

import (
	"fmt"
	"image/color"
	"math"
	"reflect"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"aplomb/plots"
	"aplomb/plots/internal/contrast"
)

// contrastCanvas is a canvas that records, for everything drawn, the colour it is
// drawn in and the colour of the background there.
type contrastCanvas struct {
	recorder.Canvas
	ink    color.NRGBA
	at     vg.Point
	turned bool
	stack  []contrastCanvas
	halo   vg.Path // the last path stroked in the colour of paper: the border of a mark or a line
	done   *drawing
}

// drawing is what was drawn so far, with an example of each pair of colours.
type drawing struct {
	theme   plots.Theme
	areas   []area // backgrounds, in the order of drawing
	texts   map[pair]string
	strokes map[pair]string
	fills   map[pair]string
}

// area is a filled background.
type area struct {
	shape []vg.Point
	box   vg.Rectangle
	ink   color.NRGBA
}

// pair is the colour of something drawn and that of its background.
type pair struct{ ink, ground color.NRGBA }

func newContrastCanvas() *contrastCanvas {
	return &contrastCanvas{done: &drawing{theme: plots.DefaultTheme(), texts: map[pair]string{}, strokes: map[pair]string{}, fills: map[pair]string{}}}
}

func (c *contrastCanvas) Push()                  { c.stack = append(c.stack, *c) }
func (c *contrastCanvas) SetColor(k color.Color) { c.ink = color.NRGBAModel.Convert(k).(color.NRGBA) }
func (c *contrastCanvas) Translate(pt vg.Point)  { c.at = c.at.Add(pt) }
func (c *contrastCanvas) Rotate(angle float64)   { c.turned = math.Abs(angle-math.Pi/2) < 1e-9 }
func (c *contrastCanvas) Pop() {
	last := c.stack[len(c.stack)-1]
	last.stack = c.stack[:len(c.stack)-1]
	*c = last
}

// moved returns the point of the page at a point of the transformed canvas.
func (c *contrastCanvas) moved(p vg.Point) vg.Point {
	if c.turned {
		p = vg.Point{X: -p.Y, Y: p.X}
	}
	return p.Add(c.at)
}

// corners returns the points of a path, with twelve points on each arc.
func (c *contrastCanvas) corners(path vg.Path) (out []vg.Point) {
	for _, p := range path {
		switch p.Type {
		case vg.MoveComp, vg.LineComp:
			out = append(out, c.moved(p.Pos))
		case vg.ArcComp:
			for i := range 12 {
				sin, cos := math.Sincos(p.Start + p.Angle*float64(i)/12)
				out = append(out, c.moved(vg.Point{X: p.Pos.X + p.Radius*vg.Length(cos), Y: p.Pos.Y + p.Radius*vg.Length(sin)}))
			}
		}
	}
	return out
}

// isGround reports whether a colour is that of a background: an area of the theme, or a
// grey of pressure.
func (d *drawing) isGround(c color.NRGBA) bool {
	t := &d.theme
	if slices.Contains([]color.NRGBA{t.Paper, t.KernFill, t.Tint, t.Faint, t.MaxPressure}, c) {
		return true
	}
	share := func(from, to, v uint8) float64 { return (float64(v) - float64(from)) / (float64(to) - float64(from)) }
	r, g, b := share(t.Paper.R, t.MaxPressure.R, c.R), share(t.Paper.G, t.MaxPressure.G, c.G), share(t.Paper.B, t.MaxPressure.B, c.B)
	const rounding = 0.01
	return c != t.Hairline && r <= 1 && math.Abs(r-g) < rounding && math.Abs(r-b) < rounding
}

// ground returns the colour of the uppermost background at a point. A mark is not
// the background of another mark that overlaps it.
func (d *drawing) ground(p vg.Point) (color.NRGBA, bool) {
	for _, a := range slices.Backward(d.areas) {
		if p.X >= a.box.Min.X && p.X <= a.box.Max.X && p.Y >= a.box.Min.Y && p.Y <= a.box.Max.Y && within(p, a.shape) {
			return a.ink, true
		}
	}
	return color.NRGBA{}, false
}

func within(p vg.Point, shape []vg.Point) (in bool) {
	for i, a := range shape {
		b := shape[(i+1)%len(shape)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y) {
			in = !in
		}
	}
	return in
}

// note records a pair of colours with an example.
func (c *contrastCanvas) note(seen map[pair]string, p vg.Point, what string) {
	if ground, ok := c.done.ground(p); ok && ground != c.ink {
		seen[pair{c.ink, ground}] = what
	}
}

func (c *contrastCanvas) Fill(path vg.Path) {
	shape := c.corners(path)
	haloed := reflect.DeepEqual(path, c.halo)
	box := vg.Rectangle{Min: vg.Point{X: vg.Length(math.Inf(1)), Y: vg.Length(math.Inf(1))}, Max: vg.Point{X: vg.Length(math.Inf(-1)), Y: vg.Length(math.Inf(-1))}}
	for _, p := range shape {
		if haloed {
			c.done.fills[pair{c.ink, c.done.theme.Paper}] = "a mark within its halo"
		} else {
			c.note(c.done.fills, p, fmt.Sprintf("an area at %.0f, %.0f", p.X, p.Y))
		}
		box.Min = vg.Point{X: min(box.Min.X, p.X), Y: min(box.Min.Y, p.Y)}
		box.Max = vg.Point{X: max(box.Max.X, p.X), Y: max(box.Max.Y, p.Y)}
	}
	if c.done.isGround(c.ink) {
		c.done.areas = append(c.done.areas, area{shape, box, c.ink})
	}
}

func (c *contrastCanvas) Stroke(path vg.Path) {
	pts := c.corners(path)
	if c.ink == c.done.theme.Paper {
		c.halo = path
		return
	}
	if reflect.DeepEqual(path, c.halo) {
		c.done.strokes[pair{c.ink, c.done.theme.Paper}] = "a line within its border"
		return
	}
	for i := 1; i < len(pts); i += 1 + len(pts)/100 {
		for _, t := range []vg.Length{0.25, 0.5, 0.75} {
			p := vg.Point{X: pts[i-1].X + t*(pts[i].X-pts[i-1].X), Y: pts[i-1].Y + t*(pts[i].Y-pts[i-1].Y)}
			c.note(c.done.strokes, p, fmt.Sprintf("a line at %.0f, %.0f", p.X, p.Y))
		}
	}
}

func (c *contrastCanvas) FillString(f font.Face, pt vg.Point, text string) {
	for _, x := range []vg.Length{0, 0.25, 0.5, 0.75, 1} {
		for _, y := range []vg.Length{0, 0.35, 0.7} {
			c.note(c.done.texts, c.moved(vg.Point{X: pt.X + x*f.Width(text), Y: pt.Y + y*f.Font.Size}), text)
		}
	}
}

// Every text and mark of every picture has the contrast with its background that level AA
// of WCAG 2.2 requires. No text of a picture counts as large.
//
// Paper, kern, hold, rise, band and the greys of pressure are backgrounds, which are not
// compared with each other: neighbouring greys cannot have a contrast of 3. Their meaning
// is also given by a line along the edge, by a word or, for pressure, by the centre of
// pressure and the numbers. Hairlines carry no meaning.
func TestContrastOfPictures(t *testing.T) {
	theme := plots.DefaultTheme()
	for _, name := range []string{"usual", "one foot", "seven shoes", "strip too small"} {
		f := fittings()[name]
		for _, p := range pictures(f) {
			c := newContrastCanvas()
			width, height := p.Size()
			p.Draw(draw.NewCanvas(c, width, height))
			if len(c.done.areas) > 1 {
				assert.NotEmpty(t, c.done.texts, "%s, %T", name, p)
			}
			for k, text := range c.done.texts {
				assert.GreaterOrEqual(t, contrast.Ratio(k.ink, k.ground), contrast.Text, "%s, %T: %q in %v on %v", name, p, text, k.ink, k.ground)
			}
			for k, what := range c.done.strokes {
				if k.ink != theme.Hairline {
					assert.GreaterOrEqual(t, contrast.Ratio(k.ink, k.ground), float64(contrast.Graphics), "%s, %T: %s in %v on %v", name, p, what, k.ink, k.ground)
				}
			}
			for k, what := range c.done.fills {
				if !c.done.isGround(k.ink) {
					assert.GreaterOrEqual(t, contrast.Ratio(k.ink, k.ground), float64(contrast.Graphics), "%s, %T: %s in %v on %v", name, p, what, k.ink, k.ground)
				}
			}
		}
	}
}
