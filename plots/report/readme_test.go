package report_test

import (
	"bytes"
	"cmp"
	"flag"
	"image"
	"image/color"
	"image/png"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write a new picture of the progress sheet for the README; look at it before committing")

// The README's picture of the progress sheet of six simulated weeks has few colours
// and is not too wide.
func TestREADMEShowsTheProgressSheet(t *testing.T) {
	path := filepath.Join("..", "..", "testdata", "readme", "progress.png")
	if *update {
		require.NoError(t, os.WriteFile(path, printed(t, progressSheet(t, progressOf(t, followed(t))), "110"), 0o644))
	}
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	shown, err := png.DecodeConfig(bytes.NewReader(data))
	require.NoError(t, err)
	palette, ok := shown.ColorModel.(color.Palette)
	require.True(t, ok, "%s has no palette", path)
	assert.LessOrEqual(t, len(palette), fewColours)
	assert.LessOrEqual(t, shown.Width, 960)
}

const fewColours = 128

// printed returns the first printed page of a sheet as a PNG of few colours,
// without the empty part at its end.
func printed(t *testing.T, html, dpi string) []byte {
	t.Helper()
	pdf := filepath.Join(t.TempDir(), "sheet.pdf")
	chromium(t, "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+saved(t, html))
	out, err := exec.Command("pdftoppm", "-r", dpi, "-singlefile", "-png", pdf).Output()
	require.NoError(t, err)
	page, err := png.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, reduced(page)))
	return b.Bytes()
}

// reduced returns a page in at most fewColours colours: the commonest ones, and those
// most different from all others kept, such as the colour of a small mark. Other colours
// are replaced by the nearest one.
func reduced(page image.Image) *image.Paletted {
	size := page.Bounds()
	counts := map[color.RGBA]int{}
	bottom := 0
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(page.At(x, y)).(color.RGBA) }
	for y := size.Min.Y; y < size.Max.Y; y++ {
		for x := size.Min.X; x < size.Max.X; x++ {
			c := at(x, y)
			counts[c]++
			if c != (color.RGBA{255, 255, 255, 255}) {
				bottom = y
			}
		}
	}
	common := slices.SortedFunc(maps.Keys(counts), func(a, b color.RGBA) int {
		return cmp.Or(counts[b]-counts[a], int(a.R)-int(b.R), int(a.G)-int(b.G), int(a.B)-int(b.B))
	})
	var palette color.Palette
	for _, c := range common[:min(len(common), fewColours*3/4)] {
		palette = append(palette, c)
	}
	for len(palette) < min(len(common), fewColours) {
		palette = append(palette, slices.MaxFunc(common, func(a, b color.RGBA) int {
			return cmp.Compare(apart(a, palette.Convert(a)), apart(b, palette.Convert(b)))
		}))
	}
	nearest := map[color.RGBA]uint8{}
	out := image.NewPaletted(image.Rect(0, 0, size.Dx(), min(size.Dy(), bottom+30)), palette)
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			c := at(size.Min.X+x, size.Min.Y+y)
			i, known := nearest[c]
			if !known {
				i = uint8(palette.Index(c))
				nearest[c] = i
			}
			out.SetColorIndex(x, y, i)
		}
	}
	return out
}

// apart returns the square of the distance of two colours.
func apart(a color.RGBA, other color.Color) int {
	b := other.(color.RGBA)
	r, g, bl := int(a.R)-int(b.R), int(a.G)-int(b.G), int(a.B)-int(b.B)
	return r*r + g*g + bl*bl
}
