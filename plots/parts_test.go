package plots_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots"
	"aplomb/plots/internal/contrast"
	"aplomb/plots/internal/exampledata"
)

// The colours of the shoes differ in lightness, so that they differ in greyscale too.
func TestColoursOfShoes(t *testing.T) {
	theme := plots.DefaultTheme()
	shapes := map[plots.Shape]bool{}
	for _, m := range theme.Shoes {
		assert.GreaterOrEqual(t, contrast.Ratio(m.Ink, theme.Paper), 4.0, "a mark that is hard to see: %v", m.Ink)
		assert.False(t, shapes[m.Shape], "two shoes have one shape")
		shapes[m.Shape] = true
	}
	// The first two shoes, which most fittings have.
	assert.GreaterOrEqual(t, contrast.Ratio(theme.Shoes[0].Ink, theme.Shoes[1].Ink), 2.5)
}

func TestSimplifyKeepsTheCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := platform.Superellipse(rapid.Float64Range(20, 50).Draw(t, "width"), rapid.Float64Range(10, 30).Draw(t, "depth"),
			rapid.Float64Range(1.5, 20).Draw(t, "exponent"))
		var dense platform.Polygon // the same curve with three times the points
		for i, a := range p {
			b := p[(i+1)%len(p)]
			for _, f := range []float64{0, 1. / 3, 2. / 3} {
				dense = append(dense, platform.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])})
			}
		}
		q := plots.Simplify(dense)
		require.LessOrEqual(t, len(q), len(p)+2)
		for _, r := range dense {
			require.Less(t, math.Abs(q.EdgeDistance(r)), 0.011)
		}
	})
	assert.Len(t, plots.Simplify(platform.Rectangle(30, 20)), 4)
	assert.Empty(t, plots.Simplify(nil))
}

func TestTicks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-1000, 1000).Draw(t, "lo")
		hi := lo + math.Pow(10, rapid.Float64Range(-2, 4).Draw(t, "log span"))
		values, labels := plots.Ticks(lo, hi, 200, 30)
		require.NotEmpty(t, values)
		require.LessOrEqual(t, len(values), 7)
		for i, v := range values {
			require.True(t, v >= lo-1e-6*(hi-lo) && v <= hi+1e-6*(hi-lo))
			if i > 0 {
				require.GreaterOrEqual(t, (v-values[i-1])/(hi-lo)*200, 30-1e-6)
				require.NotEqual(t, labels[i-1], labels[i])
			}
		}
	})
	_, labels := plots.Ticks(-9, 3, 200, 30)
	assert.Equal(t, []string{"−8", "−6", "−4", "−2", "0", "2"}, labels)
}

func TestFit(t *testing.T) {
	assert.Equal(t, "A#1", plots.FitSmall("A#1", 100))
	assert.Equal(t, "two lines", plots.FitSmall("two\nlines\x00", 100))
	assert.Equal(t, "…", plots.FitSmall("anything", 1))
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		wide := vg.Length(rapid.Float64Range(20, 200).Draw(t, "wide"))
		short := plots.FitSmall(text, wide)
		require.LessOrEqual(t, plots.TextWidth(short), wide)
		require.False(t, strings.ContainsFunc(short, func(r rune) bool { return r < ' ' }))
	})
	short := plots.FitSmall("code-of-shoe-number#1", 60)
	assert.True(t, strings.HasPrefix(short, "code") && strings.HasSuffix(short, "#1"), short)
}

// spiky is a long recording with one high sample and one gap.
func spiky(n int) plots.TraceFoot {
	f := plots.TraceFoot{Samples: make([]measure.Sample, n)}
	for i := range f.Samples {
		f.Samples[i] = measure.Sample{T: float64(i), LoadN: 100 + float32(i%2), OverMM: float32(math.NaN())}
	}
	f.Samples[n/3].LoadN = 400
	f.Samples[n/2].Flags = measure.AfterGap
	return f
}

func TestALongTraceStaysSmallAndKeepsItsPeak(t *testing.T) {
	const n = 100_000
	runs := plots.LoadCurve(spiky(n), 400, 0, n, 500)
	require.Len(t, runs, 2, "the gap breaks the curve")
	points := slices.Concat(runs...)
	assert.Less(t, len(points), 1100)
	peak := slices.MaxFunc(points, func(a, b vg.Point) int { return int(a.Y - b.Y) })
	assert.InDelta(t, 400, float64(peak.Y), 1e-6)
	assert.InDelta(t, 400.0/3, float64(peak.X), 1)
	for _, run := range runs {
		assert.True(t, slices.IsSortedFunc(run, func(a, b vg.Point) int {
			switch {
			case a.X < b.X:
				return -1
			case a.X > b.X:
				return 1
			}
			return 0
		}))
	}
}

// A pad press is named in the picture and in its description.
func TestTraceNamesPadPresses(t *testing.T) {
	f := exampledata.Usual()
	p := plots.NewTrace(f.Results[0])
	assert.NotContains(t, svg(t, p)+p.Describe(), "pad press")
	f.Results[0].Presses[device.Left] = []measure.Press{{StartS: 0.1, EndS: 1.5}}
	p = plots.NewTrace(f.Results[0])
	assert.Contains(t, svg(t, p), ">pad press<")
	assert.Contains(t, p.Describe(), "gap, 1 pad press. right foot")
}

func BenchmarkTraceOfAMillionFrames(b *testing.B) {
	f := spiky(1_000_000)
	for b.Loop() {
		plots.LoadCurve(f, 400, 0, 1_000_000, 500)
	}
}

// The outlines of a text in a PDF have the measured width of the text.
func TestLettersAreAsWideAsTheirText(t *testing.T) {
	for _, text := range []string{"H−6.2 ± 1.7 mmH", "H← back, relevéH", "HAVAH", "H"} {
		lo, hi, wide := plots.LettersOf(text)
		// The side bearings of an H are less than a tenth of its size.
		assert.InDelta(t, 0, float64(lo), 0.9)
		assert.InDelta(t, float64(wide), float64(hi), 0.9, text)
	}
}

// The drawn ellipse has the area of the formula and contains the mean.
func TestEllipseHasItsArea(t *testing.T) {
	f := &exampledata.Usual().Comparison.Shoes[0]
	var medial, over []float64
	for _, r := range f.Releves {
		medial, over = append(medial, r.MedialMM), append(over, r.OverMM)
	}
	n := float64(len(medial))
	det := stat.Variance(medial, nil)*stat.Variance(over, nil) - math.Pow(stat.Covariance(medial, over, nil), 2)
	// Formula: Schubert and Kirchner, Gait & Posture 39 (2014) 518-522.
	want := math.Pi * 2 * (n*n - 1) / (n * (n - 2)) * distuv.F{D1: 2, D2: n - 2}.Quantile(0.95) * math.Sqrt(det)
	curve := plots.Ellipse(f)
	// A polygon of 72 points on an ellipse has sin(5°)/5° of its area.
	assert.InEpsilon(t, want*math.Sin(math.Pi/36)/(math.Pi/36), curve.Area(), 1e-6)
	assert.True(t, curve.Contains(platform.Point{stat.Mean(medial, nil), stat.Mean(over, nil)}))
	f.Releves = f.Releves[:2]
	assert.Empty(t, plots.Ellipse(f))
}
