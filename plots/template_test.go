package plots_test

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/plots"
)

// templateStrip returns a strip of 45 × 30 mm.
func templateStrip(foot device.Foot, tailSide string) *device.Strip {
	return &device.Strip{
		Name: strings.ToUpper(foot.String()[:1]) + "-01", Foot: foot, Rows: 5, Cols: 9, PitchMM: [2]float64{5, 6},
		Mount: device.Mount{SeatSDMM: 1, TailSide: tailSide},
	}
}

func template(t testing.TB, shoe *device.Shoe, strips ...*device.Strip) *plots.Template {
	t.Helper()
	var of [2]*device.Strip
	for _, s := range strips {
		of[s.Foot] = s
	}
	p, err := plots.NewTemplate(shoe, of)
	require.NoError(t, err)
	return p
}

func usualTemplate(t testing.TB) *plots.Template {
	shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{39, 24}, OutlineExponent: 2.5}
	right := templateStrip(device.Right, "back")
	right.Mount.OffsetMM, right.Mount.RotationDeg = [2]float64{1, -0.5}, 3
	return template(t, shoe, templateStrip(device.Left, "big toe"), right)
}

const printedDPI = 300

// pixels converts mm to pixels; mm does the opposite.
func pixels(mm float64) int     { return int(mm * printedDPI / 25.4) }
func mm(pixels float64) float64 { return pixels * 25.4 / printedDPI }

// rendered is a PDF as poppler renders it at printedDPI.
type rendered struct {
	*image.NRGBA
	theme plots.Theme
}

func render(t *testing.T, p *plots.Template) rendered {
	t.Helper()
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		t.Skip("no pdftoppm here: .ci/run installs it")
	}
	path := filepath.Join(t.TempDir(), "template.pdf")
	sheet, err := os.Create(path)
	require.NoError(t, err)
	defer sheet.Close()
	require.NoError(t, plots.Write(sheet, p, "pdf", nil))
	info, err := exec.Command("pdfinfo", path).CombinedOutput()
	require.NoError(t, err, "%s", info)
	assert.Regexp(t, `Pages:\s+1\n`, string(info))
	assert.Regexp(t, `Page size:\s+595.\d* x 792 pts`, string(info), "210 mm, the width of A4, and 279.4 mm, the height of Letter")
	out, err := exec.Command("pdftoppm", "-r", "300", "-png", "-singlefile", path, strings.TrimSuffix(path, ".pdf")).CombinedOutput()
	require.NoError(t, err, "%s", out)
	f, err := os.Open(strings.TrimSuffix(path, "pdf") + "png")
	require.NoError(t, err)
	defer f.Close()
	picture, err := png.Decode(f)
	require.NoError(t, err)
	pixels := image.NewNRGBA(picture.Bounds())
	draw.Draw(pixels, pixels.Bounds(), picture, image.Point{}, draw.Src)
	return rendered{pixels, p.Theme}
}

// is reports whether a pixel has a colour, within rounding.
func (r rendered) is(p image.Point, c color.NRGBA) bool {
	a := r.NRGBAAt(p.X, p.Y)
	near := func(a, b uint8) bool { return math.Abs(float64(a)-float64(b)) <= 3 }
	return near(a.R, c.R) && near(a.G, c.G) && near(a.B, c.B)
}

// darkness is 0 for white and 1 for the ink.
func (r rendered) darkness(p image.Point) float64 {
	grey := func(c color.Color) float64 { return float64(color.Gray16Model.Convert(c).(color.Gray16).Y) }
	return (65535 - grey(r.At(p.X, p.Y))) / (65535 - grey(r.theme.Ink))
}

// run returns the length of the longest run of ink along a row, or along a column if
// upright, mm. A pixel that the run covers partly counts with that part.
func (r rendered) run(upright bool) float64 {
	along, lines := r.Bounds().Dx(), r.Bounds().Dy()
	if upright {
		along, lines = lines, along
	}
	at := func(line, i int) image.Point {
		if upright {
			return image.Pt(line, i)
		}
		return image.Pt(i, line)
	}
	longest, length := 0, 0.0
	for i := range lines {
		for j := 0; j < along; j++ {
			from := j
			for j < along && r.is(at(i, j), r.theme.Ink) {
				j++
			}
			if n := j - from; n > longest {
				longest = n
				length = float64(n) + r.darkness(at(i, from-1)) + r.darkness(at(i, j))
			}
		}
	}
	return mm(length)
}

// middle returns the middle of the kern's area between two columns of pixels.
func (r rendered) middle(from, to int) image.Point {
	lo, hi := image.Point{math.MaxInt, math.MaxInt}, image.Point{}
	for y := range r.Bounds().Dy() {
		for x := from; x < to; x++ {
			if r.is(image.Pt(x, y), r.theme.KernFill) {
				lo, hi = image.Pt(min(lo.X, x), min(lo.Y, y)), image.Pt(max(hi.X, x), max(hi.Y, y))
			}
		}
	}
	return lo.Add(hi).Div(2)
}

// outermost returns the distances from a middle to the outermost lines of the ink in
// each direction, mm: left, right, up, down. They are taken 1 mm beside the middle,
// where no axis runs, between two columns of pixels, and where no text can be.
func (r rendered) outermost(middle image.Point, from, to int) (at [4]float64) {
	for k, d := range [4]image.Point{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
		begin := middle.Add(image.Pt(d.Y, d.X).Mul(pixels(1)))
		for i := pixels([4]float64{25, 25, 17, 17}[k]); i > 0; i-- {
			p := begin.Add(d.Mul(i))
			if p.X < from || p.X >= to || !r.is(p, r.theme.Ink) {
				continue
			}
			sum, moment := 0.0, 0.0 // of the line, which is narrower than 9 pixels
			for j := i - 6; j <= i+4; j++ {
				dark := r.darkness(begin.Add(d.Mul(j)))
				sum, moment = sum+dark, moment+dark*float64(j)
			}
			at[k] = mm(moment / sum)
			break
		}
	}
	return at
}

// In the PDF rendered by poppler at 300 dots an inch, both bars are 50 mm long, and the
// platform has its width and depth.
func TestTemplateIsInActualSize(t *testing.T) {
	t.Parallel()
	outline := [][2]float64{{-19.5, -12}, {19.5, -12}, {19.5, 12}, {-19.5, 12}}
	p := template(t, &device.Shoe{Code: "A", OutlineMM: outline}, templateStrip(device.Left, "front"), templateStrip(device.Right, ""))
	r := render(t, p)
	assert.InDelta(t, 50, r.run(false), 0.1)
	assert.InDelta(t, 50, r.run(true), 0.1)
	half := r.Bounds().Dx() / 2
	for _, columns := range [][2]int{{0, half}, {half, 2 * half}} {
		edges := r.outermost(r.middle(columns[0], columns[1]), columns[0], columns[1])
		assert.InDelta(t, 39, edges[0]+edges[1], 0.1)
		assert.InDelta(t, 24, edges[2]+edges[3], 0.1)
	}
}

// A traced platform that is wider on the side of the big toe is drawn with that side to
// the right on the left foot and to the left on the right foot, and so is the tail on
// that side.
func TestTemplateIsMirrored(t *testing.T) {
	t.Parallel()
	egg := &device.Shoe{Code: "A", OutlineMM: [][2]float64{{-19, -6}, {17, -11}, {17, 11}, {-19, 6}}}
	lo, hi := egg.Outline().Bounds()
	r := render(t, template(t, egg, templateStrip(device.Left, "big toe"), templateStrip(device.Right, "big toe")))
	half := r.Bounds().Dx() / 2
	for foot, columns := range [2][2]int{{0, half}, {half, 2 * half}} {
		middle := r.middle(columns[0], columns[1])
		edges := r.outermost(middle, columns[0], columns[1])
		littleToe, bigToe, d := edges[0], edges[1], 1 // to the left and to the right
		if device.Foot(foot) == device.Right {
			littleToe, bigToe, d = bigToe, littleToe, -1
		}
		// The middle of the kern is not quite the platform's centroid.
		assert.InDelta(t, hi[0], bigToe, 1, "%s", device.Foot(foot))
		assert.InDelta(t, -lo[0], littleToe, 1, "%s", device.Foot(foot))
		assert.Greater(t, littleToe, bigToe+1, "the centroid is nearer to the wide end")

		// The broken lines are looked for within 5 mm of the height of the middle.
		reach := func(d int) (most float64) {
			for i := range pixels(45) {
				for dy := -pixels(5); dy <= pixels(5); dy++ {
					if p := middle.Add(image.Pt(d*i, dy)); p.X >= columns[0] && p.X < columns[1] && r.is(p, r.theme.Quiet) {
						most = mm(float64(i))
					}
				}
			}
			return most
		}
		assert.InDelta(t, 22.5, reach(-d), 1, "the edge of the cells")
		assert.InDelta(t, 22.5+14, reach(d), 1, "the end of the tail")
	}
}

func TestTemplateSaysWhatDoesNotFit(t *testing.T) {
	broad := &device.Shoe{Code: "A", PlatformMM: [2]float64{95, 30}, OutlineExponent: 2.5}
	left, right := templateStrip(device.Left, ""), templateStrip(device.Right, "")
	_, err := plots.NewTemplate(broad, [2]*device.Strip{left, right})
	assert.ErrorContains(t, err, "strip L-01 with shoe A takes 95 × 30 mm, and the sheet has 77 × 131 mm for a foot")
	_, err = plots.NewTemplate(broad, [2]*device.Strip{left, nil})
	assert.NoError(t, err)
}

func TestTemplateDescribesItself(t *testing.T) {
	assert.Equal(t, "Template in actual size for shoe A: strip L-01 under the left foot, cells 3.0 mm or more beyond the platform; "+
		"strip R-01 under the right foot, cells 2.0 mm or more beyond the platform.", usualTemplate(t).Describe())
	small := &device.Shoe{Code: "A", PlatformMM: [2]float64{46, 24}, OutlineExponent: 2.5}
	assert.Contains(t, template(t, small, templateStrip(device.Left, "")).Describe(), "platform up to 0.5 mm beyond the cells")
}
