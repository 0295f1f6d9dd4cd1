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

// painter is a canvas that asks of everything drawn what it is drawn on, and
// notes the worst contrast of each pair of inks.
type painter struct {
	recorder.Canvas
	ink    color.NRGBA
	at     vg.Point
	turned bool
	stack  []painter
	halo   vg.Path // the last line in paper: a mark within it stands on paper
	done   *painted
}

type painted struct {
	look    plots.Look
	areas   []area // grounds
	texts   map[pair]string
	strokes map[pair]string
	fills   map[pair]string
}

// area is what was filled, in the order of painting.
type area struct {
	shape []vg.Point
	box   vg.Rectangle
	ink   color.NRGBA
}

type pair struct{ ink, ground color.NRGBA }

func newPainter() *painter {
	return &painter{done: &painted{look: plots.DefaultLook(), texts: map[pair]string{}, strokes: map[pair]string{}, fills: map[pair]string{}}}
}

func (c *painter) Push()                  { c.stack = append(c.stack, *c) }
func (c *painter) SetColor(k color.Color) { c.ink = color.NRGBAModel.Convert(k).(color.NRGBA) }
func (c *painter) Translate(pt vg.Point)  { c.at = c.at.Add(pt) }
func (c *painter) Rotate(angle float64)   { c.turned = math.Abs(angle-math.Pi/2) < 1e-9 }
func (c *painter) Pop() {
	last := c.stack[len(c.stack)-1]
	last.stack = c.stack[:len(c.stack)-1]
	*c = last
}

// moved is where a point of the canvas lies on the page.
func (c *painter) moved(p vg.Point) vg.Point {
	if c.turned {
		p = vg.Point{X: -p.Y, Y: p.X}
	}
	return p.Add(c.at)
}

// corners are the points of a path; an arc gives some of its own.
func (c *painter) corners(path vg.Path) (out []vg.Point) {
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

// isGround tells areas that things stand on from the things: no darker than the
// densest pressure.
func (d *painted) isGround(c color.NRGBA) bool {
	return c != d.look.Hair && contrast.Ratio(c, d.look.Paper) <= contrast.Ratio(d.look.Dense, d.look.Paper)+1e-9
}

// ground is the ink of the uppermost ground under a point. Marks that overlap
// are no ground of each other.
func (d *painted) ground(p vg.Point) (color.NRGBA, bool) {
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

func (c *painter) meet(seen map[pair]string, p vg.Point, what string) {
	if ground, ok := c.done.ground(p); ok && ground != c.ink {
		seen[pair{c.ink, ground}] = what
	}
}

func (c *painter) Fill(path vg.Path) {
	shape := c.corners(path)
	haloed := reflect.DeepEqual(path, c.halo)
	box := vg.Rectangle{Min: vg.Point{X: vg.Length(math.Inf(1)), Y: vg.Length(math.Inf(1))}, Max: vg.Point{X: vg.Length(math.Inf(-1)), Y: vg.Length(math.Inf(-1))}}
	for _, p := range shape {
		if haloed {
			c.done.fills[pair{c.ink, c.done.look.Paper}] = "a mark within its halo"
		} else {
			c.meet(c.done.fills, p, fmt.Sprintf("an area at %.0f, %.0f", p.X, p.Y))
		}
		box.Min = vg.Point{X: min(box.Min.X, p.X), Y: min(box.Min.Y, p.Y)}
		box.Max = vg.Point{X: max(box.Max.X, p.X), Y: max(box.Max.Y, p.Y)}
	}
	if c.done.isGround(c.ink) {
		c.done.areas = append(c.done.areas, area{shape, box, c.ink})
	}
}

func (c *painter) Stroke(path vg.Path) {
	pts := c.corners(path)
	if c.ink == c.done.look.Paper {
		c.halo = path
		return
	}
	for i := 1; i < len(pts); i += 1 + len(pts)/100 {
		for _, t := range []vg.Length{0.25, 0.5, 0.75} {
			p := vg.Point{X: pts[i-1].X + t*(pts[i].X-pts[i-1].X), Y: pts[i-1].Y + t*(pts[i].Y-pts[i-1].Y)}
			c.meet(c.done.strokes, p, fmt.Sprintf("a line at %.0f, %.0f", p.X, p.Y))
		}
	}
}

func (c *painter) FillString(f font.Face, pt vg.Point, text string) {
	for _, x := range []vg.Length{0, 0.25, 0.5, 0.75, 1} {
		for _, y := range []vg.Length{0, 0.35, 0.7} {
			c.meet(c.done.texts, c.moved(vg.Point{X: pt.X + x*f.Width(text), Y: pt.Y + y*f.Font.Size}), text)
		}
	}
}

// Every text and mark of every picture against what it really stands on, at the
// level AA of WCAG 2.2. No text of a picture is large.
//
// Areas are grounds: paper, kern, hold, rise, band, and the greys of pressure.
// What they mean, a line along their edge says as well, or a word, or, for
// pressure, the place of the centre of pressure and the numbers; shades in
// between cannot all stand 3 to 1 apart. Hairlines only part things.
func TestContrastOfPictures(t *testing.T) {
	look := plots.DefaultLook()
	for _, name := range []string{"usual", "one foot", "seven shoes", "strip too small"} {
		f := fittings()[name]
		for _, p := range pictures(f) {
			c := newPainter()
			width, height := p.Size()
			p.Draw(draw.NewCanvas(c, width, height))
			if len(c.done.areas) > 1 {
				assert.NotEmpty(t, c.done.texts, "%s, %T", name, p)
			}
			for k, text := range c.done.texts {
				assert.GreaterOrEqual(t, contrast.Ratio(k.ink, k.ground), contrast.Text, "%s, %T: %q in %v on %v", name, p, text, k.ink, k.ground)
			}
			for k, what := range c.done.strokes {
				if k.ink != look.Hair {
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
