package sim

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/stat"
)

// The spectrum, computed with a Fourier transform of a library, falls as 1/f.
func TestWanderSpectrum(t *testing.T) {
	const rate, n, motions = 32.0, 1 << 11, 100
	transform := fourier.NewFFT(n)
	power := make([]float64, n/2+1)
	variance := 0.0
	x := make([]float64, n)
	for m := range motions {
		w := newPinkNoise(stream(uint64(m), "test"), 0.6)
		for i := range x {
			x[i] = w.at(float64(i) / rate)
		}
		variance += stat.Variance(x, nil) / motions
		for i := range x { // Hann's window
			x[i] *= math.Pow(math.Sin(math.Pi*float64(i)/n), 2)
		}
		for k, c := range transform.Coefficients(nil, x) {
			power[k] += cmplx.Abs(c) * cmplx.Abs(c)
		}
	}
	var lf, lp []float64
	for f := 0.15; f < 8; f *= 1.3 {
		sum, count := 0.0, 0.0
		for k := range power {
			if g := transform.Freq(k) * rate; g >= f && g < 1.3*f {
				sum, count = sum+power[k], count+1
			}
		}
		lf, lp = append(lf, math.Log(f)), append(lp, math.Log(sum/count))
	}
	_, slope := stat.LinearRegression(lf, lp, nil, false)
	require.InDelta(t, -1, slope, 0.05)
	require.Less(t, stat.Correlation(lf, lp, nil), -0.97)
	require.InEpsilon(t, 0.6, math.Sqrt(variance), 0.05)
}
