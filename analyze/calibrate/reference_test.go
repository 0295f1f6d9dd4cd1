package calibrate

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// reference is what testdata/reference.py printed with the scipy it names.
type reference struct {
	Cubics []struct{ X, Y, At, Value []float64 }
	Curves []struct {
		X, P        []float64
		KPaPerCount float64 `json:"kpa_per_count"`
		A, B        float64
		Missed      map[CurveKind]float64
	}
	Gains []struct {
		Rows       [][]*float64
		Gain       []float64
		DOF        float64
		ResidualSD float64 `json:"residual_sd"`
	}
}

func scipy(t *testing.T) (r reference) {
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &r))
	return r
}

// The cubic agrees with scipy's PchipInterpolator over its whole range.
func TestMonotoneCubicAgainstSciPy(t *testing.T) {
	for _, c := range scipy(t).Cubics {
		curve := Curve{Kind: PointsCurve, Counts: c.X, KPa: c.Y}
		for i, x := range c.At {
			assert.InDelta(t, c.Value[i], curve.At(x), 1e-9*c.Y[len(c.Y)-1])
		}
	}
}

// Line and power law agree with scipy's lstsq and curve_fit, and so do the leave-one-out
// errors of each kind.
func TestCurvesAgainstSciPy(t *testing.T) {
	for _, c := range scipy(t).Curves {
		line, ok := fitCurve(LinearCurve, c.X, c.P)
		require.True(t, ok)
		assert.InEpsilon(t, c.KPaPerCount, line.KPaPerCount, 1e-12)
		power, ok := fitCurve(PowerCurve, c.X, c.P)
		require.True(t, ok)
		assert.InEpsilon(t, c.A, power.KPaAtOneCount, 1e-6)
		assert.InEpsilon(t, c.B, power.Exponent, 1e-7)

		best, missed := chooseCurve(c.X, c.P)
		require.Len(t, missed, len(kinds))
		least := math.Inf(1)
		for kind, m := range missed {
			assert.InEpsilon(t, c.Missed[kind], m, 1e-6, kind)
			least = min(least, c.Missed[kind])
		}
		assert.LessOrEqual(t, c.Missed[best.Kind], simplerTolerance*least)
	}
}

// Gains, with cells that some rows do not reach, agree with those of a general minimizer
// of the Poisson deviance.
func TestGainsAgainstSciPy(t *testing.T) {
	for _, c := range scipy(t).Gains {
		rows := make([][]float64, len(c.Rows))
		for i, r := range c.Rows {
			rows[i] = make([]float64, len(r))
			for k, y := range r {
				rows[i][k] = math.NaN()
				if y != nil {
					rows[i][k] = *y
				}
			}
		}
		g, err := findGains(rows)
		require.NoError(t, err)
		assert.InDeltaSlice(t, c.Gain, g.Gain, 1e-6)
		assert.Equal(t, c.DOF, g.DOF)
		assert.InEpsilon(t, c.ResidualSD, g.ResidualSD, 1e-5)
	}
}
