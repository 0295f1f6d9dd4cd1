package drawing

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

// svg returns an SVG file with a unit of half a millimetre.
func svg(path string) []byte {
	return []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="0 0 100 100"><path d="` + path + `"/></svg>`)
}

// The areas of the figures are from textbooks, mm², with a unit of half a millimetre.
func TestAreasOfPaths(t *testing.T) {
	const quarter = 0.25 // mm² of a square unit
	for _, c := range []struct {
		name, path string
		area       float64
	}{
		{"rectangle", "M10,10 H50 V30 H10 Z", 40 * 20 * quarter},
		{"the same, relative and close", "m10 10h40v20h-40z", 40 * 20 * quarter},
		{"further pairs of a moveto", "M10 10 50 10 50 30 10 30", 40 * 20 * quarter},
		{"further pairs, relative", "m10-10 40 0 0 20-40 0Z", 40 * 20 * quarter},
		{"circle of two arcs", "M10,50 A40,40 0 0,1 90,50 A40,40 0 0,1 10,50 Z", math.Pi * 40 * 40 * quarter},
		{"flags without separators", "M10,50a40,40 0 0180,0a40,40 0 01-80,0z", math.Pi * 40 * 40 * quarter},
		{"turned ellipse", "M10,50 A40,20 0 1,0 90,50 A40,20 0 1,0 10,50 Z", math.Pi * 40 * 20 * quarter},
		// The three-quarter pie of SVG 1.1, section 8.3.8, a fifth of its size.
		{"pie", "M60,40 h-30 a30,30 0 1,0 30,-30 z", math.Pi * 30 * 30 * 3 / 4 * quarter},
		// Radii that are too small grow until the arc reaches (appendix F.6.6): half circles.
		{"radii too small", "M10,50 A1,1 0 0,1 90,50 A1,1 0 0,1 10,50 Z", math.Pi * 40 * 40 * quarter},
		// A parabola cuts off two thirds of the box around it (Archimedes); its vertex is halfway to the control point.
		{"quadratic", "M10,10 Q50,90 90,10 Z", 2.0 / 3 * 80 * 40 * quarter},
		{"two quadratics, the second smooth: what the hump takes the dip gives", "M10,50 Q30,90 50,50 T90,50 V95 H10 Z", 80 * 45 * quarter},
		// With control points straight above its ends a cubic is y = 3t(1−t)·h, x = (3t² − 2t³)·b:
		// ∫ y dx = 18·b·h·∫ t²(1−t)² dt = 18/30·b·h.
		{"cubic", "M10,10 C10,60 90,60 90,10 Z", 3.0 / 5 * 80 * 50 * quarter},
		{"cubics, the second smooth", "M10,50 C10,90 50,90 50,50 S90,10 90,50 V95 H10 Z", 80 * 45 * quarter},
	} {
		got, err := ParseSVG(c.name, svg(c.path), Options{})
		require.NoError(t, err, c.name)
		lo, hi := got.Bounds()
		around := 2 * (hi[0] - lo[0] + hi[1] - lo[1])
		assert.InDelta(t, c.area, got.Area(), around*flatMM+around*0.001, c.name)
		m := got.Moments()
		assert.InDelta(t, 0, math.Hypot(m.Centroid[0], m.Centroid[1]), 0.002, c.name)
	}
}

// Four cubics with the constant 4(√2 − 1)/3 are the usual circle, nowhere further
// than 0.0273 % of the radius from it (S. Mortensen, Approximate a circle with
// cubic Bézier curves, spencermortensen.com/articles/bezier-circle).
func TestCircleOfCubics(t *testing.T) {
	const k = 0.5522847498
	c := fmt.Sprintf("M90,50 C90,%[1]g %[1]g,90 50,90 S10,%[1]g 10,50 S%[2]g,10 50,10 S90,%[2]g 90,50 Z", 50+40*k, 50-40*k)
	got, err := ParseSVG("circle", svg(c), Options{})
	require.NoError(t, err)
	for _, p := range got {
		assert.InDelta(t, 20, math.Hypot(p[0], p[1]), 20*0.000273+0.002)
	}
}

// The front is up in the drawing, where y points down, and the big toe is to the right.
func TestWhichWayIsUp(t *testing.T) {
	const path = "M10,10 H90 V20 L10,60 Z" // wide at the top, and deeper on the left
	got, err := ParseSVG("x", svg(path), Options{})
	require.NoError(t, err)
	lo, hi := got.Bounds()
	assert.Less(t, hi[1], -lo[1], "more of it is at the front")
	assert.Less(t, -lo[0], hi[0], "more of it is to the left")
	mirrored, err := ParseSVG("x", svg(path), Options{Mirror: true})
	require.NoError(t, err)
	mlo, mhi := mirrored.Bounds()
	assert.InDelta(t, -lo[0], mhi[0], 0.002)
	assert.InDelta(t, -hi[0], mlo[0], 0.002)
	assert.InDelta(t, hi[1], mhi[1], 0.002)
}

func TestScaleOfDrawing(t *testing.T) {
	drawing := func(head string) []byte {
		return []byte(`<svg ` + head + `><g transform="translate(3,4)"><path d="M0,0H40V20H0Z"/></g></svg>`)
	}
	for _, c := range []struct {
		head  string
		scale float64
		width float64
	}{
		{`width="100mm" viewBox="0 0 100 50"`, 0, 40},
		{`width="10cm" viewBox="0,0,100,50"`, 0, 40},
		{`width="1in" viewBox="0 0 25.4 20"`, 0, 40},
		{`width="72pt" viewBox="0 0 25.4 20"`, 0, 40},
		{`width="6pc" viewBox="0 0 25.4 20"`, 0, 40},
		{`width="800" viewBox="0 0 800 600"`, 0.5, 20},
		{`width="100mm" viewBox="0 0 100 50"`, 0.5, 20}, // Options take precedence over the file
		{``, 1, 40},
		// SVG 1.1, section 7.8: the whole viewBox is seen, or all of the sheet is covered.
		{`width="100mm" height="50mm" viewBox="0 0 100 50"`, 0, 40},
		{`width="100mm" height="100%" viewBox="0 0 100 50"`, 0, 40},
		{`width="100mm" height="5cm" viewBox="0 0 100 100"`, 0, 20},
		{`width="50mm" height="100mm" viewBox="0 0 100 100"`, 0, 20},
		{`width="100mm" height="50mm" viewBox="0 0 100 100" preserveAspectRatio="xMinYMin meet"`, 0, 20},
		{`width="100mm" height="50mm" viewBox="0 0 100 100" preserveAspectRatio="xMidYMid slice"`, 0, 40},
	} {
		p, err := ParseSVG("x", drawing(c.head), Options{ScaleMM: c.scale})
		require.NoError(t, err, c.head)
		lo, hi := p.Bounds()
		assert.InDelta(t, c.width, hi[0]-lo[0], 0.002, c.head)
	}
	for _, head := range []string{``, `width="800"`, `width="800px" viewBox="0 0 800 600"`, `width="100%" viewBox="0 0 1 1"`, `width="10mm"`,
		`width="10mm" viewBox="0 0 0 0"`, `width="10mm" viewBox="0 0 10 10" preserveAspectRatio="none"`, `width="xmm" viewBox="0 0 10 10"`,
		`width="10mm" height="10" viewBox="0 0 10 10"`, `width="10mm" height="0mm" viewBox="0 0 10 10"`} {
		_, err := ParseSVG("x", drawing(head), Options{})
		assert.ErrorContains(t, err, "--scale", head)
	}
}

// Each transform acts on a point as SVG 1.1, section 7.6, says.
func TestTransforms(t *testing.T) {
	for text, want := range map[string]platform.Point{
		"":                             {1, 2},
		"translate(3)":                 {4, 2},
		"translate(3,4)":               {4, 6},
		"scale(2)":                     {2, 4},
		"scale(2 3)":                   {2, 6},
		"rotate(90)":                   {-2, 1},
		"rotate(90, 1, 1)":             {0, 1},
		"skewX(45)":                    {3, 2},
		"skewY(45)":                    {1, 3},
		"matrix(1,2,3,4,5,6)":          {1 + 6 + 5, 2 + 8 + 6},
		"translate(10,0) scale(2)":     {12, 4}, // the last one is applied first
		" scale(2),\ttranslate(10 0) ": {22, 4},
	} {
		m, err := parseTransform(text)
		require.NoError(t, err, text)
		got := m.apply(platform.Point{1, 2})
		assert.InDeltaSlice(t, want[:], got[:], 1e-9, text)
	}
	for _, text := range []string{"shift(3)", "scale", "scale(", "scale()", "scale(1,2,3)", "matrix(1 2 3)", "scale(x)", "rotate(1 2)"} {
		_, err := parseTransform(text)
		assert.Error(t, err, text)
	}
}

func TestSVGRefuses(t *testing.T) {
	for path, says := range map[string]string{
		"":                               "draws nothing",
		"M1,1":                           "draws nothing",
		"L1,1":                           "begins with a moveto",
		"M0,0 X":                         `'X' is no command`,
		"M0,0 L1":                        "a number should stand here",
		"M0,0 L1,nan":                    "a number should stand here",
		"M0,0 A1,1 0 2,0 3,3":            "an arc's flag",
		"M0,0H9V9Z M20,20h9v9z":          "more than one curve",
		"M0,0H9V9Z h9":                   "more than one curve",
		"M0,0 H40":                       "", // no area: package platform refuses it
		"M0,0 L40,40 H0 L40,0 Z":         "", // crosses itself
		"M0,0 H1e300 V5 Z":               "too large",
		"M0,0 C1e9,1e9 -1e9,1e9 40,40 Z": "is the scale right?",
		"M0,0 L1e999,0":                  "is no number",
	} {
		_, err := ParseSVG("x.svg", svg(path), Options{})
		if assert.Error(t, err, path) {
			assert.True(t, strings.HasPrefix(err.Error(), "x.svg: "), err)
			assert.Contains(t, err.Error(), says, path)
			assert.NotContains(t, err.Error(), "\n")
		}
	}
	for file, says := range map[string]string{
		``:              "0 paths",
		`hello`:         "0 paths",
		`<html></html>`: "it begins with <html>",
		`<svg><path d="M0,0H9V9Z"/><path d="M0,0H9V9Z"/></svg>`: "2 paths",
		`<svg><path d="M0,0H9V9Z"`:                              "no SVG drawing",
		`<svg><svg><path/></svg></svg>`:                         "a drawing within",
		strings.Repeat("<g>", 2):                                "it begins with <g>",
		`<svg>` + strings.Repeat("<g>", 200):                    "too deep",
		`<svg><path transform="bend(3)" d="M0,0H9V9Z"/></svg>`:  "not as SVG 1.1 has it",
		`<svg><path transform="scale(0)" d="M0,0H9V9Z"/></svg>`: "nothing of the path",
	} {
		_, err := ParseSVG("x.svg", []byte(file), Options{ScaleMM: 1})
		assert.ErrorContains(t, err, says, file)
	}
	// A path that is not drawn does not count.
	_, err := ParseSVG("x.svg", []byte(`<svg><defs><g><path d="M0,0"/></g></defs><path d="M0,0H9V9Z"/></svg>`), Options{ScaleMM: 1})
	assert.NoError(t, err)
}

func TestCSV(t *testing.T) {
	for _, text := range []string{
		"medial,over\n0,0\n36,0\n36,22\n0,22\n",
		"# traced by hand\n\n0;0\r\n36;0\r\n36;22\r\n0;22\r\n0;0\r\n",
		"\ufeff0 0\n36\t0\n36 22\n0 22",
	} {
		p, err := ParseCSV("x.csv", []byte(text), Options{})
		require.NoError(t, err, text)
		assert.Equal(t, platform.Polygon{{-18, -11}, {18, -11}, {18, 11}, {-18, 11}}, p)
	}
	p, err := ParseCSV("x.csv", []byte("0,0\n1,0\n1,1\n"), Options{ScaleMM: 30})
	require.NoError(t, err)
	assert.InDelta(t, 450, p.Area(), 0.1)
	for text, says := range map[string]string{
		"0,0\n36,0\nthere\n": `x.csv:3: "there" is no point`,
		"a,b\nc,d\n":         `x.csv:2: "c,d" is no point`,
		"0,0,0\n1,1,1\n":     "x.csv:2: ",
		"0,NaN\n1,1\nInf,3":  "x.csv:3: ",
		"":                   "x.csv: ",
		"0,0\n1,1\n":         "x.csv: ",
		"\xff\xfe":           "no outline in CSV",
	} {
		_, err := ParseCSV("x.csv", []byte(text), Options{})
		assert.ErrorContains(t, err, says, text)
	}
	_, err = ParseCSV("x.csv", []byte("0,0\n1,0\n1,1\n"), Options{ScaleMM: math.NaN()})
	assert.ErrorContains(t, err, "the scale is")
}

func TestRead(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "A.SVG")
	require.NoError(t, os.WriteFile(path, svg("M10,10 H50 V30 H10 Z"), 0o600))
	p, err := Read(t.Context(), path, Options{})
	require.NoError(t, err)
	assert.InDelta(t, 200, p.Area(), 0.1)
	_, err = Read(t.Context(), filepath.Join(dir, "A.png"), Options{})
	assert.ErrorContains(t, err, "ends in .csv or .svg")
	_, err = Read(t.Context(), filepath.Join(dir, "B.csv"), Options{})
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// Shifting, rotating or scaling the drawing does the same to the outline.
func TestTransformsCarryOver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(0.2, 3).Draw(t, "scale")
		angle := rapid.Float64Range(-180, 180).Draw(t, "angle")
		x := rapid.Float64Range(-500, 500).Draw(t, "x")
		file := fmt.Sprintf(`<svg><g transform="translate(%[1]g,%[1]g)"><path transform="rotate(%[2]g) scale(%[3]g)"
			d="M10,50 A40,25 0 0,1 90,50 Q70,90 50,80 T10,50 Z"/></g></svg>`, x, angle, k)
		got, err := ParseSVG("x", []byte(file), Options{ScaleMM: 1})
		require.NoError(t, err)
		plain, err := ParseSVG("x", []byte(`<svg><path d="M10,50 A40,25 0 0,1 90,50 Q70,90 50,80 T10,50 Z"/></svg>`), Options{ScaleMM: 1})
		require.NoError(t, err)
		a, b := plain.Moments(), got.Moments()
		assert.InEpsilon(t, a.Area*k*k, b.Area, 0.002)
		assert.InEpsilon(t, (a.MM+a.OO)*math.Pow(k, 4), b.MM+b.OO, 0.004)
	})
}

func FuzzParseSVG(f *testing.F) {
	f.Add(svg("M10,10 H50 V30 H10 Z"), 0.0)
	f.Add(svg("m10,50a40,40 0 0180,0q3-3 5 .5t1e0 2c1,2 3,4 5,6s1 1 2 2z"), 0.5)
	f.Add([]byte(`<svg width="1in" viewBox="0 0 9 9"><g transform="rotate(3 1 1) skewX(4)"><path transform="scale(-1)" d="M0,0H9V9Z"/></g></svg>`), 0.0)
	f.Fuzz(func(t *testing.T, data []byte, scale float64) {
		before := allocated()
		p, err := ParseSVG("x", data, Options{ScaleMM: scale})
		require.Less(t, allocated()-before, uint64(4<<20+256*len(data)))
		usable(t, p, err)
	})
}

func FuzzParseCSV(f *testing.F) {
	f.Add([]byte("medial,over\n0,0\n36,0\n36,22\n0,22\n"), 1.0)
	f.Add([]byte("# x\n0;0\n1e300;0\n1;1"), 0.0)
	f.Fuzz(func(t *testing.T, data []byte, scale float64) {
		before := allocated()
		p, err := ParseCSV("x", data, Options{ScaleMM: scale})
		require.Less(t, allocated()-before, uint64(4<<20+256*len(data)))
		usable(t, p, err)
	})
}

// allocated returns how many bytes the process has allocated so far.
func allocated() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.TotalAlloc
}

// usable checks that an outline is finite, or that its error is one line.
func usable(t *testing.T, p platform.Polygon, err error) {
	if err != nil {
		require.NotContains(t, err.Error(), "\n")
		return
	}
	require.GreaterOrEqual(t, len(p), 3)
	for _, q := range p {
		require.False(t, math.IsNaN(q[0]+q[1]) || math.IsInf(q[0]+q[1], 0))
	}
}

// The costliest drawings of 4 MiB need some hundred MiB at most, and longer ones are refused.
func TestTheLongestDrawingsCostLittle(t *testing.T) {
	fill := func(begin, unit string) []byte {
		return []byte(begin + strings.Repeat(unit, (maxBytes-len(begin))/len(unit)))
	}
	for name, read := range map[string]func() error{
		"empty lines": func() error { _, err := ParseCSV("x", fill("", "\n"), Options{}); return err },
		"points":      func() error { _, err := ParseCSV("x", fill("", "1,2\n3,4\n"), Options{}); return err },
		"groups":      func() error { _, err := ParseSVG("x", fill("<svg>", "<g>"), Options{}); return err },
		"transforms": func() error {
			_, err := ParseSVG("x", fill("<svg><path transform='", "scale(2) "), Options{})
			return err
		},
	} {
		t.Run(name, func(t *testing.T) {
			before := allocated()
			err := read()
			require.Error(t, err)
			assert.NotContains(t, err.Error(), "\n")
			assert.Less(t, allocated()-before, uint64(400<<20))
			t.Log((allocated()-before)>>20, "MiB", err)
		})
	}
	long := filepath.Join(t.TempDir(), "long.svg")
	require.NoError(t, os.WriteFile(long, make([]byte, maxBytes+1), 0o600))
	_, err := Read(t.Context(), long, Options{})
	assert.EqualError(t, err, long+": more than 4096 KiB: is it the right file?")
}
