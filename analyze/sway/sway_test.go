package sway

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"aplomb/analyze/stats"
)

// reference returns the output of testdata/reference.py with the scipy version it names.
func reference(t *testing.T) (r struct {
	Coefficients []struct {
		Rate float64
		B, A []float64
	}
	Series []struct {
		Rate float64
		Pad  int
		X, Y []float64
	}
}) {
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &r))
	require.NotEmpty(t, r.Coefficients)
	require.NotEmpty(t, r.Series)
	return r
}

func TestCoefficientsAgainstScipy(t *testing.T) {
	// scipy.signal.butter 1.10 at 100 Hz, to the digits it prints.
	f := newButterworth(10, 100)
	assert.InDeltaSlice(t, []float64{0.06745527, 0.13491055, 0.06745527, -1.1429805, 0.4128016}, []float64{f.b0, f.b1, f.b2, f.a1, f.a2}, 5e-8)
	f = newButterworth(5, 100)
	assert.InDeltaSlice(t, []float64{0.02008337, 0.04016673, 0.02008337, -1.56101808, 0.64135154}, []float64{f.b0, f.b1, f.b2, f.a1, f.a2}, 5e-9)

	for _, c := range reference(t).Coefficients {
		f := newButterworth(10, c.Rate)
		assert.InDeltaSlice(t, c.B, []float64{f.b0, f.b1, f.b2}, 1e-12, "rate %v", c.Rate)
		assert.InDeltaSlice(t, c.A, []float64{1, f.a1, f.a2}, 1e-12, "rate %v", c.Rate)
	}
}

func TestZeroPhaseAgainstScipy(t *testing.T) {
	for _, c := range reference(t).Series {
		x := slices.Clone(c.X)
		assert.InDeltaSlice(t, c.Y, newButterworth(10, c.Rate).zeroPhase(x, c.Pad), 1e-10, "rate %v", c.Rate)
		assert.Equal(t, c.X, x, "the input stays as it was")
	}
}

// sample returns a path sampled at rate, Hz, for the given seconds.
func sample(rate, seconds float64, path func(t float64) (medial, over float64)) (t, m, o []float64) {
	for i := range int(seconds*rate) + 1 {
		at := float64(i) / rate
		x, y := path(at)
		t, m, o = append(t, at), append(m, x), append(o, y)
	}
	return t, m, o
}

// circle returns one revolution a second on a radius of 2 mm: the path length of a second
// is the circumference, and the standard deviations are 2/√2.
func circle(t float64) (medial, over float64) {
	sin, cos := math.Sincos(2 * math.Pi * t)
	return 3 + 2*cos, -4 + 2*sin
}

func TestSwayOfACircle(t *testing.T) {
	for _, rate := range []float64{50, 100, 122, 333, 1000} {
		s, ok := FromPath(sample(rate, 10, circle))
		require.True(t, ok)
		assert.InEpsilon(t, 2*math.Pi*2*10, s.PathMM, 0.01, "rate %v", rate)
		assert.InEpsilon(t, 2*math.Pi*2, s.SpeedMMS, 0.01, "rate %v", rate)
		assert.InEpsilon(t, math.Sqrt2, s.SDMedialMM, 0.005, "rate %v", rate)
		assert.InEpsilon(t, math.Sqrt2, s.SDOverMM, 0.005, "rate %v", rate)
		assert.InEpsilon(t, stats.PredictionEllipse95(2, 2, 0, 1001).Area, s.Ellipse95MM2, 0.01, "rate %v", rate)
	}
}

// Run forwards and backwards the filter passes 1/(1 + (f/10)⁴) of a slow sine (in the
// limit of a high rate) and half of one at 10 Hz, without delay.
func TestLowPassLeavesWhatItShould(t *testing.T) {
	for _, hz := range []float64{2, 5, 10, 20} {
		at, m, o := sample(1000, 8, func(t float64) (float64, float64) { return math.Sin(2 * math.Pi * hz * t), 0 })
		s, ok := FromPath(at, m, o)
		require.True(t, ok)
		assert.InDelta(t, 1/(1+math.Pow(hz/10, 4))/math.Sqrt2, s.SDMedialMM, 0.005, "%v Hz", hz)
		assert.Zero(t, s.SDOverMM)
		assert.Zero(t, s.Ellipse95MM2)
	}
}

func TestSwayDoesNotCrossGaps(t *testing.T) {
	at, m, o := sample(100, 4, func(t float64) (float64, float64) {
		if t > 2 {
			return 50, 0 // far away after the gap
		}
		return 0, 0
	})
	keep := func(gap func(i int) bool) (t, x, y []float64) {
		for i := range at {
			if !gap(i) {
				t, x, y = append(t, at[i]), append(x, m[i]), append(y, o[i])
			}
		}
		return t, x, y
	}
	s, ok := FromPath(keep(func(i int) bool { return i == 201 }))
	require.True(t, ok)
	assert.Zero(t, s.PathMM)
	assert.Greater(t, s.SDMedialMM, 20.0, "the parts lie far from each other")

	// An undefined point divides the path like a missing frame.
	m[201] = math.NaN()
	s, ok = FromPath(at, m, o)
	require.True(t, ok)
	assert.Zero(t, s.PathMM)

	// A part between two gaps that is too short to filter is left out.
	s, ok = FromPath(keep(func(i int) bool { return i > 200 && (i <= 205 || i > 213) }))
	require.True(t, ok)
	assert.Zero(t, s.SDMedialMM)
	assert.Zero(t, s.SpeedMMS)
}

func TestNoSwayToGive(t *testing.T) {
	for name, c := range map[string]struct{ t, m, o []float64 }{
		"nothing":       {},
		"one":           {[]float64{0}, []float64{1}, []float64{1}},
		"lengths":       {[]float64{0, 1}, []float64{1}, []float64{1, 2}},
		"clock stands":  {make([]float64, 30), make([]float64, 30), make([]float64, 30)},
		"time is NaN":   {slices.Repeat([]float64{math.NaN()}, 30), make([]float64, 30), make([]float64, 30)},
		"place unknown": {[]float64{0, .01, .02}, slices.Repeat([]float64{math.NaN()}, 3), make([]float64, 3)},
	} {
		_, ok := FromPath(c.t, c.m, c.o)
		assert.False(t, ok, name)
	}
	_, ok := FromPath(sample(100, 0.08, circle)) // nine samples
	assert.False(t, ok)
	_, ok = FromPath(sample(100, 0.09, circle)) // ten
	assert.True(t, ok)
	_, ok = FromPath(sample(20, 10, circle))
	assert.False(t, ok)
	_, ok = FromPath(sample(25, 10, circle))
	assert.True(t, ok)
}

// Jitter of a fifth of an interval has little effect.
func TestSwayOnAnUnsteadyClock(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	at, m, o := sample(200, 10, circle)
	for i := range at {
		at[i] += (rng.Float64() - 0.5) * 0.2 / 200
		m[i], o[i] = circle(at[i])
	}
	s, ok := FromPath(at, m, o)
	require.True(t, ok)
	assert.InEpsilon(t, 2*math.Pi*2*10, s.PathMM, 0.02)
	assert.InEpsilon(t, math.Sqrt2, s.SDOverMM, 0.01)
}

// Sway does not depend on the position of the path and mirrors with it.
func TestSwayProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "noise"), 1))
		rate := rapid.Float64Range(50, 1000).Draw(t, "rate")
		x, y := 0.0, 0.0
		at, m, o := sample(rate, 2, func(float64) (float64, float64) {
			x, y = 0.99*x+rng.NormFloat64(), 0.99*y+rng.NormFloat64()
			return x, y
		})
		s, ok := FromPath(at, m, o)
		require.True(t, ok)
		assert.LessOrEqual(t, s.SDOverMM, stat.StdDev(o, nil)*1.2)

		sin, cos := math.Sincos(rapid.Float64Range(-3, 3).Draw(t, "turn"))
		k := rapid.Float64Range(0.1, 10).Draw(t, "scale")
		dm, do := make([]float64, len(m)), make([]float64, len(o))
		for i := range m {
			dm[i], do[i] = 7+k*(cos*m[i]-sin*o[i]), -3+k*(sin*m[i]+cos*o[i])
		}
		for i := range at {
			at[i] += 64 // the time of the hold has no effect
		}
		turned, ok := FromPath(at, dm, do)
		require.True(t, ok)
		// Rounding of the times can change the extension by one sample, which changes the fifth digit.
		assert.InEpsilon(t, k*s.PathMM, turned.PathMM, 1e-3)
		assert.InEpsilon(t, k*k*s.Ellipse95MM2, turned.Ellipse95MM2, 1e-3)
		assert.InEpsilon(t, k*math.Hypot(s.SDMedialMM, s.SDOverMM), math.Hypot(turned.SDMedialMM, turned.SDOverMM), 1e-3)
	})
}

func BenchmarkSwayOf3s(b *testing.B) {
	at, m, o := sample(1000, 3, circle)
	for b.Loop() {
		FromPath(at, m, o)
	}
}
