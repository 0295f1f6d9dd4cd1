package sway

import (
	"math"
	"slices"
)

// butterworth is a second-order Butterworth low-pass filter: y[i] = b0·x[i] +
// b1·x[i−1] + b2·x[i−2] − a1·y[i−1] − a2·y[i−2].
type butterworth struct{ b0, b1, b2, a1, a2 float64 }

// newButterworth returns the filter with the half-power frequency cutoff at the
// sampling rate, both in Hz, by the bilinear transform with pre-warped cutoff
// (Oppenheim & Schafer, Discrete-Time Signal Processing; the tests hold its
// coefficients against scipy.signal.butter). cutoff must be below rate/2.
func newButterworth(cutoff, rate float64) butterworth {
	k := math.Tan(math.Pi * cutoff / rate)
	a0 := 1 + math.Sqrt2*k + k*k
	b := k * k / a0
	return butterworth{
		b0: b, b1: 2 * b, b2: b,
		a1: 2 * (k*k - 1) / a0,
		a2: (1 - math.Sqrt2*k + k*k) / a0,
	}
}

// filter filters x in place, with the steady state of x[0] as initial state.
func (f butterworth) filter(x []float64) {
	z0, z1 := (1-f.b0)*x[0], (f.b2-f.a2)*x[0]
	for i, v := range x {
		y := f.b0*v + z0
		z0 = f.b1*v - f.a1*y + z1
		z1 = f.b2*v - f.a2*y
		x[i] = y
	}
}

// zeroPhase returns x filtered forwards and then backwards, without delay. Both
// ends are first extended by pad values, reflected about the end point, so that
// the filter has settled where x begins; pad must be below len(x).
func (f butterworth) zeroPhase(x []float64, pad int) []float64 {
	n := len(x)
	y := make([]float64, 0, n+2*pad)
	for i := pad; i > 0; i-- {
		y = append(y, 2*x[0]-x[i])
	}
	y = append(y, x...)
	for i := range pad {
		y = append(y, 2*x[n-1]-x[n-2-i])
	}
	f.filter(y)
	slices.Reverse(y)
	f.filter(y)
	slices.Reverse(y)
	return y[pad : pad+n]
}
