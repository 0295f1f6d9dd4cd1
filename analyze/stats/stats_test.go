package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

var inf, nan = math.Inf(1), math.NaN()

func TestStudentAtItsEdges(t *testing.T) {
	assert.InDelta(t, 1.959963984540054, TQuantile(0.975, inf), 1e-12) // the normal quantile, as scipy and R give it
	assert.Equal(t, inf, TQuantile(0.975, 0))
	assert.Equal(t, -inf, TQuantile(0, 5))
	for _, bad := range [][2]float64{{-0.1, 5}, {1.1, 5}, {nan, 5}, {0.9, -1}, {0.9, nan}} {
		assert.True(t, math.IsNaN(TQuantile(bad[0], bad[1])), "%v", bad)
	}

	assert.Equal(t, Interval{3, 3}, Interval95(3, 0, 0))
	assert.Equal(t, Interval{-inf, inf}, Interval95(3, 1, 0))
	assert.True(t, math.IsNaN(Interval95(3, -1, 5).Lo))
	assert.True(t, math.IsNaN(Interval95(3, nan, 5).Hi))
	assert.False(t, Interval95(3, 1, nan).Contains(3))
	assert.True(t, Interval{1, 2}.Contains(2))
	assert.False(t, Interval{1, 2}.Contains(2.1))
}

func TestEffectiveDOFAtItsEdges(t *testing.T) {
	assert.Equal(t, inf, EffectiveDOF())
	assert.Equal(t, inf, EffectiveDOF(Component{0, 3}, Component{0, 0}))
	assert.Equal(t, inf, EffectiveDOF(Component{1, inf}, Component{2, inf}))
	assert.Equal(t, 0.0, EffectiveDOF(Component{1, 0}, Component{1, 5}))
	assert.Equal(t, 7.0, EffectiveDOF(Component{2, 7}, Component{0, 1}))
	assert.True(t, math.IsNaN(EffectiveDOF(Component{nan, 3})))
	assert.True(t, math.IsNaN(EffectiveDOF(Component{1, -3})))
	assert.Equal(t, 8.0, EffectiveDOF(Component{1e200, 4}, Component{1e200, 4})) // no overflow
	assert.Equal(t, 0.0, Combined())
	assert.Equal(t, 5.0, Combined(Component{3, 1}, Component{4, 1}))
}

// The effective degrees of freedom lie between the smallest of the parts' and
// their sum (JCGM 100:2008, G.4.1, note), and do not depend on the unit.
func TestEffectiveDOFProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Component {
			return Component{rapid.Float64Range(0.01, 10).Draw(t, "u"), rapid.Float64Range(1, 100).Draw(t, "dof")}
		}), 1, 6).Draw(t, "parts")
		dof := EffectiveDOF(parts...)
		least, sum := inf, 0.0
		scaled := slices.Clone(parts)
		for i, p := range parts {
			least, sum = min(least, p.DOF), sum+p.DOF
			scaled[i].U *= 1000
		}
		assert.GreaterOrEqual(t, dof, least*(1-1e-12))
		assert.LessOrEqual(t, dof, sum*(1+1e-12))
		assert.InEpsilon(t, dof, EffectiveDOF(scaled...), 1e-12)
	})
}

func TestHolmKnownNumbers(t *testing.T) {
	// The first case of testdata/holm.json, which R's p.adjust made.
	got := Holm([]float64{0.01, 0.02, 0.03, 0.04, 0.05})
	assert.InDeltaSlice(t, []float64{0.05, 0.08, 0.09, 0.09, 0.09}, got, 1e-12)

	assert.Empty(t, Holm(nil))
	with := Holm([]float64{0.03, nan, 0.01})
	assert.InDelta(t, 0.03, with[0], 1e-12)
	assert.True(t, math.IsNaN(with[1]))
	assert.InDelta(t, 0.02, with[2], 1e-12)
}

// Holm's procedure is the closed test with Bonferroni's test of every intersection
// (Marcus, Peritz & Gabriel, Biometrika 63 (1976) 655-660): the adjusted value of one
// hypothesis is the largest of |S|·min p over all sets S of hypotheses that contain it.
func TestHolmIsTheClosedTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 8).Draw(t, "p")
		want := make([]float64, len(p))
		for set := 1; set < 1<<len(p); set++ {
			least, size := 1.0, 0.0
			for i := range p {
				if set>>i&1 == 1 {
					least, size = min(least, p[i]), size+1
				}
			}
			for i := range p {
				if set>>i&1 == 1 {
					want[i] = max(want[i], min(1, size*least))
				}
			}
		}
		assert.InDeltaSlice(t, want, Holm(p), 1e-12)
	})
}

// The F quantiles and the χ² limit are those of scipy 1.10 (to the digits shown).
func TestPredictionEllipseAgainstQuantiles(t *testing.T) {
	for n, f := range map[int]float64{10: 4.4590, 30: 3.3404, 100: 3.0892} {
		m := float64(n)
		want := math.Pi * 2 * (m*m - 1) / (m * (m - 2)) * f * 6 // √(9·4)
		assert.InEpsilon(t, want, PredictionEllipse95(9, 4, 0, n).Area, 2e-5)
	}
	assert.InEpsilon(t, math.Pi*5.9915, PredictionEllipse95(1, 1, 0, 100_000_000).Area, 1e-5)
}

func TestPredictionEllipseShape(t *testing.T) {
	e := PredictionEllipse95(9, 4, 0, 10)
	assert.InEpsilon(t, 1.5, e.SemiMajor/e.SemiMinor, 1e-12)
	assert.Equal(t, 0.0, e.AngleRad)
	assert.InDelta(t, math.Pi/2, PredictionEllipse95(4, 9, 0, 10).AngleRad, 1e-12)

	line := PredictionEllipse95(1, 1, 1, 10)
	assert.Equal(t, 0.0, line.Area)
	assert.Equal(t, 0.0, line.SemiMinor)
	assert.InDelta(t, math.Pi/4, line.AngleRad, 1e-12)

	for _, e := range []Ellipse{PredictionEllipse95(1, 1, 0, 2), PredictionEllipse95(1, 1, 0, 0), PredictionEllipse95(nan, 1, 0, 9), PredictionEllipse95(-1, 1, 0, 9), PredictionEllipse95(inf, 1, 0, 9)} {
		assert.True(t, math.IsNaN(e.Area) && math.IsNaN(e.SemiMajor) && math.IsNaN(e.AngleRad))
	}

	rapid.Check(t, func(t *rapid.T) {
		major, minor := rapid.Float64Range(1, 9).Draw(t, "major"), rapid.Float64Range(0.1, 0.9).Draw(t, "minor")
		angle := rapid.Float64Range(-1.5, 1.5).Draw(t, "angle")
		n := rapid.IntRange(3, 50).Draw(t, "n")
		sin, cos := math.Sincos(angle)
		e := PredictionEllipse95(major*cos*cos+minor*sin*sin, major*sin*sin+minor*cos*cos, (major-minor)*sin*cos, n)
		assert.InEpsilon(t, math.Pi*e.SemiMajor*e.SemiMinor, e.Area, 1e-9)
		assert.InEpsilon(t, math.Sqrt(major/minor), e.SemiMajor/e.SemiMinor, 1e-9)
		assert.InDelta(t, angle, e.AngleRad, 1e-9)
	})
}

// The ellipse contains the next point in 95 of 100 simulations.
func TestPredictionEllipseHoldsTheNextPoint(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	const trials, n = 20_000, 8
	inside := 0
	x, y := make([]float64, n), make([]float64, n)
	for range trials {
		for i := range x {
			x[i] = rng.NormFloat64()
			y[i] = 0.6*x[i] + rng.NormFloat64()
		}
		e := PredictionEllipse95(stat.Variance(x, nil), stat.Variance(y, nil), stat.Covariance(x, y, nil), n)
		nx := rng.NormFloat64()
		ny := 0.6*nx + rng.NormFloat64()
		sin, cos := math.Sincos(e.AngleRad)
		dx, dy := nx-stat.Mean(x, nil), ny-stat.Mean(y, nil)
		if math.Hypot((dx*cos+dy*sin)/e.SemiMajor, (dy*cos-dx*sin)/e.SemiMinor) <= 1 {
			inside++
		}
	}
	assert.InDelta(t, 0.95, float64(inside)/trials, 4*math.Sqrt(0.95*0.05/trials))
}

// The region of a mean holds 95 % of the distribution that the verdict takes: its mass, by
// the integral of MassInsideT over a polygon of 720 corners, which has 0.0013 % less area.
func TestMeanEllipseHolds95Percent(t *testing.T) {
	for _, dof := range []float64{1, 2.5, 4, 12, 60, math.Inf(1)} {
		for _, u := range [][2]float64{{1, 1}, {0.3, 2}, {2, 0.3}} {
			e := MeanEllipse95(u, dof)
			half := [2]float64{e.SemiMajor, e.SemiMinor}
			if u[1] > u[0] {
				assert.InDelta(t, math.Pi/2, e.AngleRad, 1e-12)
				half = [2]float64{e.SemiMinor, e.SemiMajor}
			}
			var polygon [][2]float64
			for i := range 720 {
				sin, cos := math.Sincos(2 * math.Pi * float64(i) / 720)
				polygon = append(polygon, [2]float64{half[0] * cos, half[1] * sin})
			}
			assert.InDelta(t, 0.95, MassInsideT(polygon, [2]float64{}, u, dof), 2e-5, "dof %v, u %v", dof, u)
			assert.InDelta(t, math.Pi*half[0]*half[1], e.Area, 1e-9*e.Area)
		}
	}
	// The 95 % quantile of chi-squared with 2 degrees of freedom is 5.991 (NIST/SEMATECH
	// e-Handbook of Statistical Methods, 1.3.6.7.4).
	assert.InDelta(t, math.Sqrt(5.991), MeanEllipse95([2]float64{1, 1}, math.Inf(1)).SemiMajor, 1e-3)
	// F(0.95; 2, 10) is 4.103 (the same, 1.3.6.7.3).
	assert.InDelta(t, math.Sqrt(2*4.103), MeanEllipse95([2]float64{1, 1}, 10).SemiMajor, 1e-3)
	for _, bad := range []Ellipse{MeanEllipse95([2]float64{1, 1}, 0), MeanEllipse95([2]float64{-1, 1}, 5), MeanEllipse95([2]float64{1, math.NaN()}, 5), MeanEllipse95([2]float64{1, 1}, math.NaN())} {
		assert.True(t, math.IsNaN(bad.Area) && math.IsNaN(bad.SemiMajor))
	}
}

func TestBatchMeanSE(t *testing.T) {
	assert.True(t, math.IsNaN(BatchMeanSE(nil)))
	assert.True(t, math.IsNaN(BatchMeanSE([]float64{1})))
	// One value a batch is the plain standard error.
	x := []float64{3, 1, 4, 1, 5, 9, 2, 6}
	assert.InDelta(t, stat.StdDev(x, nil)/math.Sqrt(8), BatchMeanSE(x), 1e-12)

	// For a first-order autoregression xᵢ = φ·xᵢ₋₁ + eᵢ the variance of the mean
	// tends to σ²/(n(1−φ)²), the limit of the formula in the next test.
	rng := rand.New(rand.NewPCG(7, 8))
	const phi, n, runs = 0.9, 5_000, 200
	square := 0.0
	for range runs {
		v, series := 0.0, make([]float64, n)
		for i := range series {
			v = phi*v + rng.NormFloat64()
			series[i] = v
		}
		u := BatchMeanSE(series)
		square += u * u / runs
	}
	want := 1 / (n * (1 - phi) * (1 - phi))
	assert.InDelta(t, want, square, 0.15*want) // its relative standard error is √(2/(9·200)) = 3 %
}

// Batch means underestimate the standard error of a series as short as a hold, 600
// values, with a correlation time that is not much shorter. For a first-order
// autoregression the variance of the mean of n values is exactly
// σ²/n·((1+φ)/(1−φ) − 2φ(1−φⁿ)/(n(1−φ)²)), the sum of the n² autocorrelations
// φ^|i−j|, which the test adds up too. The scatter of b batch means estimates (V(n/b) − V(n))/(b−1) of it.
func TestBatchMeanSEOfAShortSeries(t *testing.T) {
	const n, runs = 600, 400
	rng := rand.New(rand.NewPCG(9, 9))
	for _, remembers := range []float64{5, 20, 60, 200} { // values until 1/e is left
		phi := math.Exp(-1 / remembers)
		variance := func(n float64) float64 {
			return ((1+phi)/(1-phi) - 2*phi*(1-math.Pow(phi, n))/(n*(1-phi)*(1-phi))) / n
		}
		sum := 0.0
		for i := range n {
			for j := range n {
				sum += math.Pow(phi, math.Abs(float64(i-j))) / (n * n)
			}
		}
		require.InEpsilon(t, sum, variance(n), 1e-9)
		square, fourth := 0.0, 0.0
		for range runs {
			v, series := rng.NormFloat64(), make([]float64, n)
			for i := range series {
				v = phi*v + math.Sqrt(1-phi*phi)*rng.NormFloat64()
				series[i] = v
			}
			u := BatchMeanSE(series)
			square += u * u / runs
			fourth += u * u * u * u / runs
		}
		dof := batchDOF(n, phi)
		t.Logf("remembers %.0f of %d values: batch means give %.2f of the standard error, with %.1f degrees of freedom", remembers, n, math.Sqrt(square/variance(n)), dof)
		assert.InEpsilon(t, dof, 2*square*square/(fourth-square*square), 0.35)
		assert.LessOrEqual(t, dof, BatchDOF(n))
		assert.InEpsilon(t, (variance(n/batches)-variance(n))/(batches-1), square, 0.1) // three times its own standard error
	}
}

// batchDOF is 2·E²/Var of the variance of the means of ten batches of a
// first-order autoregression of n values. It is a quadratic form of normal
// variables, so E is the trace of their covariance, centred, and Var twice that
// of its square (Box, Annals of Mathematical Statistics 25 (1954) 290-302, from
// memory).
func batchDOF(n int, phi float64) float64 {
	const b = batches
	var c [b][b]float64
	for i := range n {
		for j := range n {
			c[i*b/n][j*b/n] += math.Pow(phi, math.Abs(float64(i-j)))
		}
	}
	var rows [b]float64
	all := 0.0
	for i := range b {
		for j := range b {
			rows[i] += c[i][j] / b
			all += c[i][j] / (b * b)
		}
	}
	trace, square := 0.0, 0.0
	for i := range b {
		for j := range b {
			v := c[i][j] - rows[i] - rows[j] + all
			square += v * v
			if i == j {
				trace += v
			}
		}
	}
	return trace * trace / square
}
