package plots_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/cmpimg"
	"gonum.org/v1/plot/vg"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots"
	"aplomb/plots/internal/exampledata"
)

var update = flag.Bool("update", false, "write new golden pictures; look at them before committing")

// fittings are the comparisons that the pictures are tested with.
var fittings = sync.OnceValue(makeFittings)

func makeFittings() map[string]exampledata.Fitting {
	long := exampledata.A
	long.Shoe.Code = "a-code-of-forty-characters-which-is-long"
	wide := exampledata.B
	wide.Shoe.Code = `<b>&"x" ` + strings.Repeat("W", 32)
	many := []exampledata.ShoeCase{exampledata.A, exampledata.B}
	for _, code := range []string{"C", "D", "E#1", "E#2", "G"} {
		s := exampledata.B
		s.Shoe.Code = code
		many = append(many, s)
	}
	odd := exampledata.B
	odd.Shoe.Code = "鞋\x00\n\u202eé"
	odd.Verdict = [2]measure.Verdict{measure.ToTheSide, measure.TooCloseToCall}
	swapped := exampledata.Usual()
	for i := range swapped.Comparison.Shoes {
		swapped.Comparison.Shoes[i].Support = []string{"barre", "none"}[i/2]
		swapped.Comparison.Shoes[i].Shoe = "A"
	}
	uncovered := exampledata.Usual()
	uncovered.Comparison.Shoes[0].Platform.Covered = 0.8
	broken := exampledata.Usual()
	broken.Comparison.Shoes[0].Releves[0].Hold.OverMM = math.NaN()
	broken.Comparison.Shoes[0].MeanMap = broken.Comparison.Shoes[0].MeanMap[:3]
	pressed := exampledata.Usual()
	for _, f := range device.Feet {
		pressed.Results[0].Presses[f] = []measure.Press{{StartS: 0.2 + 0.9*float64(f), EndS: 0.8 + 0.9*float64(f)}, {StartS: 30, EndS: 38}}
	}
	return map[string]exampledata.Fitting{
		"usual":              exampledata.Usual(),
		"one shoe":           exampledata.New(1, 6, device.Feet[:], exampledata.A),
		"one foot":           exampledata.New(2, 3, []device.Foot{device.Right}, exampledata.A, exampledata.B),
		"one relevé":         exampledata.New(1, 1, device.Feet[:], exampledata.A, exampledata.B),
		"two relevés":        exampledata.New(1, 2, device.Feet[:], exampledata.A, exampledata.B),
		"long codes":         exampledata.New(2, 3, device.Feet[:], long, wide),
		"seven shoes":        exampledata.New(1, 3, device.Feet[:], many...),
		"odd code":           exampledata.New(1, 3, device.Feet[:], exampledata.A, odd),
		"several conditions": swapped,
		"strip too small":    uncovered,
		"values missing":     broken,
		"pad presses":        pressed,
		"nothing":            {Comparison: &compare.Comparison{}},
	}
}

// pictures returns all pictures of a fitting, including those that All omits because they
// have no content.
func pictures(f exampledata.Fitting) []plots.Picture {
	out := []plots.Picture{
		plots.NewPlatforms(f.Comparison), plots.NewShoes(f.Comparison, device.Left), plots.NewShoes(f.Comparison, device.Right),
		plots.NewFeet(f.Comparison, "A"), plots.NewFeet(f.Comparison, "no such shoe"), plots.NewTrace(&measure.Result{}),
	}
	for _, p := range plots.All(f.Results, f.Comparison) {
		out = append(out, p.Picture)
	}
	for _, p := range plots.NewWears(f.Comparison) {
		out = append(out, p)
	}
	plain := plots.NewPlace(f.Comparison)
	plain.Plain, plain.NoLegend, plain.Wide = true, true, 14*vg.Centimeter
	against := plots.NewAgainstKern(f.Comparison)
	against.Plain = true
	out = append(out, plain, plots.NewPlace(f.Comparison), against, plots.NewAgainstKern(f.Comparison))
	for _, p := range slices.Concat(plots.Reliability(repeated()), plots.Reference(withReference())) {
		out = append(out, p.Picture)
	}
	return append(out, plots.NewLadder(f.Comparison), plots.NewLadder(ranked(f)), trend(), &plots.Trend{Theme: plots.DefaultTheme()})
}

func svg(t testing.TB, p plots.Picture) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, plots.Write(&b, p, "svg", nil))
	return b.String()
}

func TestSVGIsWhole(t *testing.T) {
	for name, f := range fittings() {
		t.Run(name, func(t *testing.T) {
			for _, p := range pictures(f) {
				text := svg(t, p)
				for _, bad := range []string{"NaN", "Inf", "font-family:Liberation Sans;"} {
					assert.False(t, strings.Contains(text, bad), "%T holds %q", p, bad)
				}
				assert.NotEmpty(t, p.Describe())
				for d := xml.NewDecoder(strings.NewReader(text)); ; {
					if _, err := d.Token(); err != nil {
						require.ErrorIs(t, err, io.EOF)
						break
					}
				}
			}
		})
	}
}

func TestSVGHasFixedBytes(t *testing.T) {
	a, b := pictures(exampledata.Usual()), pictures(exampledata.Usual())
	for i, p := range a {
		require.True(t, svg(t, p) == svg(t, b[i]), "%T: the same picture has other bytes", p)
	}
}

func TestEveryFormat(t *testing.T) {
	magic := map[string]string{"svg": "<?xml", "png": "\x89PNG", "pdf": "%PDF-"}
	for _, named := range plots.All(exampledata.Usual().Results, exampledata.Usual().Comparison)[:2] {
		for _, format := range plots.Formats {
			var b strings.Builder
			require.NoError(t, plots.Write(&b, named, format, nil))
			assert.True(t, strings.HasPrefix(b.String(), magic[format]), "%s as %s", named.Name, format)
		}
	}
}

func TestErrorsOfWrite(t *testing.T) {
	p := plots.NewPlatforms(exampledata.Usual().Comparison)
	assert.EqualError(t, plots.Write(io.Discard, p, "gif", nil), `picture format "gif": one of svg, png, pdf`)
	full := errors.New("disk full")
	assert.ErrorIs(t, plots.Write(failingWriter{full}, p, "svg", nil), full)
}

type failingWriter struct{ err error }

func (f failingWriter) Write([]byte) (int, error) { return 0, f.err }

// The golden pictures show unintended changes. They do not show that a picture is
// right.
func TestGolden(t *testing.T) {
	f := exampledata.Usual()
	for name, p := range map[string]plots.Picture{
		"platforms":    plots.NewPlatforms(f.Comparison),
		"place":        plots.NewPlace(f.Comparison),
		"against-kern": plots.NewAgainstKern(f.Comparison),
		"shoes":        plots.NewShoes(f.Comparison, device.Left),
		"feet":         plots.NewFeet(f.Comparison, "A"),
		"trace":        plots.NewTrace(f.Results[0]),
		"wear":         plots.NewWears(f.Comparison)[0],
		"ladder":       plots.NewLadder(ranked(fittings()["seven shoes"])),
		"trend":        trend(),
		"reference":    plots.Reference(withReference())[0].Picture,
		"template":     usualTemplate(t),
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, plots.WriteDPI(&b, p, "png", 80))
			path := filepath.Join("testdata", name+".png")
			if *update {
				require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			same, err := cmpimg.EqualApprox("png", b.Bytes(), want, 0.1)
			require.NoError(t, err)
			assert.True(t, same, "%s differs: go test ./plots -update, then look at it", path)
		})
	}
}

func TestAllNamesAreFileNames(t *testing.T) {
	for name, f := range fittings() {
		met := map[string]bool{}
		for _, p := range plots.All(f.Results, f.Comparison) {
			assert.False(t, met[p.Name], "%s: %s twice", name, p.Name)
			assert.Equal(t, filepath.Base(p.Name), p.Name)
			met[p.Name] = true
		}
	}
	assert.Equal(t, "feet-..-a-b#2", plots.FileName("feet-../a b#2"))
	a := exampledata.A
	a.Shoe.Code = "x/y"
	b := exampledata.B
	b.Shoe.Code = "x:y"
	f := exampledata.New(1, 2, device.Feet[:], a, b)
	var names []string
	for _, p := range plots.All(f.Results, f.Comparison) {
		names = append(names, p.Name)
	}
	assert.Equal(t, []string{"place", "against-kern", "platforms", "shoes-left", "shoes-right", "feet-x-y", "feet-x-y-2", "wear-x-y", "wear-x-y-2", "trace-y-1", "trace-x-y-1"}, names)
}
