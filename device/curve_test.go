package device

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// calibrated returns the strip of grid with a calibration.
func calibrated(c Calibration) *Strip {
	s := grid("rows", "back-lateral")
	s.Calibration = c
	return s
}

var (
	aPower  = Calibration{Curve: "power", KPaAtOneCount: 0.02, Exponent: 1.4}
	aSquare = Calibration{Curve: "power", KPaAtOneCount: 0.001, Exponent: 2}
	points  = Calibration{Curve: "points", Counts: []float64{0, 300, 1000, 2200}, KPa: []float64{0, 150, 700, 2500}}
	uneven  = []float64{0.9, 1.1, 1.05, 0.95, 1.2, 0.8}
)

func TestLine(t *testing.T) {
	s := calibrated(Calibration{KPaPerCount: 0.75})
	c := s.Curve()
	assert.Equal(t, slices.Repeat([]float64{0.75}, 6), c.LinearScale())
	assert.Equal(t, 0.75*100, c.KPa(3, 100))
	assert.Equal(t, -7.5, c.KPa(3, -10), "below its zero")
	assert.True(t, math.IsInf(c.MaxKPa(), 1))

	// A cell that reads 10 % more counts than the others is under the same pressure.
	s.Calibration.Gains = uneven
	c = s.Curve()
	assert.InDelta(t, 75, c.KPa(1, 110), 1e-12)
	assert.InDelta(t, 75, c.KPa(5, 80), 1e-12)
}

func TestPower(t *testing.T) {
	s := calibrated(aSquare)
	s.Calibration.Gains = uneven
	c := s.Curve()
	assert.Nil(t, c.LinearScale())
	assert.InDelta(t, 1000, c.KPa(4, 1200), 1e-9)
	assert.InDelta(t, -1000, c.KPa(4, -1200), 1e-9, "as far below zero as above")
	assert.InDelta(t, 1.999/1.2, c.PerCount(4, 1200-0.3), 1e-9, "the square's slope is 2·0.001·999.5 there")
	// Between whole counts it is linear: within an eighth of the second derivative.
	assert.InDelta(t, 0.001*1000.5*1000.5, c.KPa(4, 1200.6), 0.002/8+1e-9)
}

func TestPoints(t *testing.T) {
	s := calibrated(points)
	c := s.Curve()
	for i, n := range points.Counts {
		assert.InDelta(t, points.KPa[i], c.KPa(0, n), 1e-9)
	}
	// Beyond the last point it follows the line through the last two.
	assert.InDelta(t, 2500+1500.0*1800/1200, c.KPa(0, 3700), 1e-9)
	assert.Equal(t, 2500.0, c.MaxKPa(), "nothing was put on beyond the last knot")
	s.Calibration.RangeKPa = []float64{100, 2000}
	assert.Equal(t, 2000.0, s.Curve().MaxKPa())
}

// The monotone cubic equals that of scipy (testdata/pchip.py).
func TestPointsAgainstScipy(t *testing.T) {
	data, err := os.ReadFile("testdata/pchip.json")
	require.NoError(t, err)
	var reference struct {
		Curves []struct{ Counts, KPa, X, Y []float64 }
	}
	require.NoError(t, json.Unmarshal(data, &reference))
	require.NotEmpty(t, reference.Curves)
	for _, r := range reference.Curves {
		s := calibrated(Calibration{Curve: "points", Counts: r.Counts, KPa: r.KPa})
		s.ADCBits, s.SaturatesAt = 16, 65535
		require.NoError(t, s.Check())
		c := s.Curve()
		require.NotEmpty(t, r.X)
		for i, x := range r.X {
			assert.InDelta(t, r.Y[i], c.KPa(0, x), 1e-9*r.KPa[len(r.KPa)-1], "%d knots, at %v", len(r.Counts), x)
		}
	}
}

// anyCalibration generates a curve and gains for 12 bits.
func anyCalibration(t *rapid.T) *Strip {
	var c Calibration
	switch c.Curve = rapid.SampledFrom([]string{"linear", "power", "points"}).Draw(t, "curve"); c.Curve {
	case "linear":
		c.KPaPerCount = rapid.Float64Range(0.01, 10).Draw(t, "kPa per count")
	case "power":
		c.Exponent = rapid.Float64Range(0.3, 3).Draw(t, "exponent")
		c.KPaAtOneCount = rapid.Float64Range(100, 5000).Draw(t, "full") / math.Pow(4095, c.Exponent)
	case "points":
		c.Counts, c.KPa = []float64{0}, []float64{0}
		for i := range rapid.IntRange(1, 12).Draw(t, "knots") {
			c.Counts = append(c.Counts, c.Counts[i]+rapid.Float64Range(20, 500).Draw(t, "counts"))
			c.KPa = append(c.KPa, c.KPa[i]+rapid.Float64Range(0.1, 500).Draw(t, "kPa"))
		}
	}
	if rapid.Bool().Draw(t, "uneven") {
		c.Gains = rapid.SliceOfN(rapid.Float64Range(0.5, 2), 6, 6).Draw(t, "gains")
		sum := 0.0
		for _, g := range c.Gains {
			sum += g / 6
		}
		for k := range c.Gains {
			c.Gains[k] /= sum
		}
	}
	return calibrated(c)
}

// Every curve rises with the counts and is odd about 0, and Counts is the inverse of KPa.
func TestAnyCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyCalibration(t)
		require.NoError(t, s.Check())
		c := s.Curve()
		k := rapid.IntRange(0, 5).Draw(t, "cell")
		x := rapid.Float64Range(-4095, 4095).Draw(t, "x")
		y := rapid.Float64Range(-4095, 4095).Draw(t, "y")
		require.Zero(t, c.KPa(k, 0))
		require.Equal(t, -c.KPa(k, x), c.KPa(k, -x))
		if x+1e-3 < y {
			require.Less(t, c.KPa(k, x), c.KPa(k, y))
		}
		require.Positive(t, c.PerCount(k, x))
		require.InDelta(t, x, c.Counts(k, c.KPa(k, x)), 1e-6*math.Abs(x)+1e-6)

		frame, zero, kPa := make([]uint16, 6), make([]float64, 6), make([]float64, 6)
		frame[k], zero[k] = uint16(math.Abs(x)), math.Abs(y)
		c.Frame(kPa, frame, zero)
		for i := range kPa {
			require.Equal(t, c.KPa(i, float64(frame[i])-zero[i]), kPa[i])
		}
	})
}

// A straight line given as a power or by points is that line.
func TestLineInEveryKindOfCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slope := rapid.Float64Range(0.01, 10).Draw(t, "slope")
		x := rapid.Float64Range(-4095, 4095).Draw(t, "x")
		line := calibrated(Calibration{KPaPerCount: slope})
		require.Equal(t, slope*x, line.Curve().KPa(0, x), "exactly")
		for _, c := range []Calibration{
			{Curve: "linear", KPaPerCount: slope},
			{Curve: "power", KPaAtOneCount: slope, Exponent: 1},
			{Curve: "points", Counts: []float64{0, 100, 700, 4095}, KPa: []float64{0, 100 * slope, 700 * slope, 4095 * slope}},
		} {
			require.InDelta(t, slope*x, calibrated(c).Curve().KPa(0, x), 1e-9*slope*4095, c.Curve)
		}
	})
}

func BenchmarkFrame(b *testing.B) {
	for _, c := range []Calibration{{KPaPerCount: 0.75}, aPower} {
		name := "line"
		if c.nonlinear() {
			name = "curve"
		}
		b.Run(name, func(b *testing.B) {
			s := calibrated(c)
			s.Rows, s.Cols = 5, 8
			curve := s.Curve()
			counts, zero, kPa := make([]uint16, 40), make([]float64, 40), make([]float64, 40)
			for k := range counts {
				counts[k], zero[k] = uint16(97*k), 20.3
			}
			b.ReportAllocs()
			for b.Loop() {
				curve.Frame(kPa, counts, zero)
			}
		})
	}
}
