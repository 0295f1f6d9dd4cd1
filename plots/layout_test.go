package plots_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots"
	"aplomb/plots/internal/exampledata"
)

// texts is a canvas that records the position of every text.
type texts struct {
	recorder.Canvas
	at     vg.Point
	turned bool
	stack  []texts
	found  []label
}

type label struct {
	text string
	size vg.Length
	box  vg.Rectangle
}

func (c *texts) Push()                 { c.stack = append(c.stack, texts{at: c.at, turned: c.turned}) }
func (c *texts) Translate(pt vg.Point) { c.at = c.at.Add(pt) }
func (c *texts) Rotate(angle float64)  { c.turned = math.Abs(angle-math.Pi/2) < 1e-9 }
func (c *texts) Pop() {
	last := c.stack[len(c.stack)-1]
	c.stack, c.at, c.turned = c.stack[:len(c.stack)-1], last.at, last.turned
}

func (c *texts) FillString(f font.Face, pt vg.Point, text string) {
	// About the height of a digit and the depth of a descender.
	lo, hi := vg.Point{X: pt.X, Y: pt.Y - 0.15*f.Font.Size}, vg.Point{X: pt.X + f.Width(text), Y: pt.Y + 0.7*f.Font.Size}
	if c.turned {
		lo, hi = vg.Point{X: -hi.Y, Y: lo.X}, vg.Point{X: -lo.Y, Y: hi.X}
	}
	c.found = append(c.found, label{text, f.Font.Size, vg.Rectangle{Min: lo.Add(c.at), Max: hi.Add(c.at)}})
}

func labels(p plots.Picture) (found []label, width, height vg.Length) {
	width, height = p.Size()
	var c texts
	p.Draw(draw.NewCanvas(&c, width, height))
	return c.found, width, height
}

func TestTextIsNeitherClippedNorOverlaps(t *testing.T) {
	for name, f := range fittings() {
		t.Run(name, func(t *testing.T) {
			for _, p := range pictures(f) {
				found, width, height := labels(p)
				const slack = 0.01
				for i, l := range found {
					where := fmt.Sprintf("%T: %q at %v", p, l.text, l.box)
					assert.True(t, l.box.Min.X >= -slack && l.box.Max.X <= width+slack && l.box.Min.Y >= -slack && l.box.Max.Y <= height+slack,
						"%s leaves the picture of %v × %v", where, width, height)
					for _, m := range found[:i] {
						apart := l.box.Min.X >= m.box.Max.X-slack || m.box.Min.X >= l.box.Max.X-slack ||
							l.box.Min.Y >= m.box.Max.Y-slack || m.box.Min.Y >= l.box.Max.Y-slack
						assert.True(t, apart, "%s overlaps %q at %v", where, m.text, m.box)
					}
				}
			}
		})
	}
}

// A verdict on both axes fits in every picture.
func TestVerdictOnBothAxesFits(t *testing.T) {
	f := exampledata.Usual()
	for i := range f.Comparison.Shoes {
		s := &f.Comparison.Shoes[i]
		s.Verdict, s.Misses = measure.TooFarOver, []measure.Direction{measure.InFront, measure.LittleToeSide}
	}
	front, side := 0, 0
	for _, p := range pictures(f) {
		found, width, height := labels(p)
		for i, l := range found {
			isFront, isSide := strings.HasPrefix(l.text, "too far over"), strings.HasSuffix(l.text, "little-toe side")
			if !isFront && !isSide {
				continue
			}
			if isFront {
				front++
			}
			if isSide {
				side++
			}
			assert.True(t, l.box.Min.X >= 0 && l.box.Max.X <= width && l.box.Min.Y >= 0 && l.box.Max.Y <= height, "%T: %q", p, l.text)
			for k, m := range found {
				assert.True(t, k == i || l.box.Min.X >= m.box.Max.X || m.box.Min.X >= l.box.Max.X || l.box.Min.Y >= m.box.Max.Y || m.box.Min.Y >= l.box.Max.Y,
					"%T: %q overlaps %q", p, l.text, m.text)
			}
		}
	}
	assert.NotZero(t, front)
	assert.Equal(t, front, side)
}

func TestTextIsLargeEnough(t *testing.T) {
	for _, p := range pictures(exampledata.Usual()) {
		found, width, _ := labels(p)
		for _, l := range found {
			assert.GreaterOrEqual(t, float64(l.size*16*vg.Centimeter/max(width, 8*vg.Centimeter)), 9.0-1e-9, l.text)
		}
	}
}

func TestBigToesFaceEachOther(t *testing.T) {
	found, width, _ := labels(plots.NewPlatforms(exampledata.Usual().Comparison))
	var toes []string
	for _, l := range found {
		if strings.HasSuffix(l.text, " toe") && len(toes) < 4 {
			toes = append(toes, l.text)
			assert.Equal(t, len(toes) <= 2, l.box.Max.X < width/2)
		}
	}
	assert.Equal(t, []string{"little toe", "big toe", "big toe", "little toe"}, toes)
}

// Medial points towards the big toe: to the right on the left foot, and to the left
// on the right foot.
func TestMedialPointsToTheBigToe(t *testing.T) {
	assert.Equal(t, vg.Point{X: 3, Y: 2}, plots.ToCanvas(device.Left, platform.Point{3, 2}))
	assert.Equal(t, vg.Point{X: -3, Y: 2}, plots.ToCanvas(device.Right, platform.Point{3, 2}))
}
