package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"aplomb/device"
)

func newTestConverter(strip *device.Strip, f Faults) *converter {
	return newConverter(strip, f, nil, stream(1, "cells"), stream(1, "noise"))
}

func TestPerfectStripRoundsAndSaturates(t *testing.T) {
	strip := testStrip(device.Left)
	strip.SaturatesAt = 4000
	kPa, counts := make([]float64, 40), make([]uint16, 40)
	copy(kPa, []float64{0, 0.374, 0.376, 75, 75.3, 75.4, 2999.7, 3000, 5000, 1e9})
	newTestConverter(strip, Faults{}).read(kPa, 0, counts)
	require.Equal(t, []uint16{0, 0, 1, 100, 100, 101, 4000, 4000, 4000, 4000, 0}, counts[:11])
}

// Gain, zero and noise have the given standard deviations, and the zero drifts within the given amplitude.
func TestFaultsHaveTheirSize(t *testing.T) {
	strip := testStrip(device.Left)
	strip.Rows, strip.Cols = 40, 40
	n := strip.Cells()
	kPa, counts := make([]float64, n), make([]uint16, n)
	read := func(f Faults, pressure, at float64) []float64 {
		for k := range kPa {
			kPa[k] = pressure
		}
		newTestConverter(strip, f).read(kPa, at, counts)
		x := make([]float64, n)
		for k, c := range counts {
			x[k] = float64(c)
		}
		return x
	}
	mean, sd := stat.MeanStdDev(read(Faults{GainSD: 0.05}, 1500, 0), nil)
	require.InEpsilon(t, 2000, mean, 0.005)
	require.InEpsilon(t, 100, sd, 0.1)

	mean, sd = stat.MeanStdDev(read(Faults{Zero: 60, ZeroSD: 12}, 0, 0), nil)
	require.InDelta(t, 60, mean, 1)
	require.InEpsilon(t, 12, sd, 0.1)

	mean, sd = stat.MeanStdDev(read(Faults{Noise: 5}, 750, 0), nil)
	require.InDelta(t, 1000, mean, 0.5)
	require.InEpsilon(t, 5, sd, 0.1)

	f := Faults{Zero: 100, Drift: 20}
	early, late := read(f, 0, 0), read(f, 0, 120)
	moved := 0.0
	for k := range early {
		require.InDelta(t, 100, early[k], 20.5)
		moved += math.Abs(late[k]-early[k]) / float64(n)
	}
	require.Greater(t, moved, 5.0)
}

// A strip with unequal cells and a nonlinear curve reads counts that its profile converts
// back to the pressure, within the rounding of a count.
func TestStripIsAsItsCalibrationSays(t *testing.T) {
	strip := testStrip(device.Left)
	strip.Calibration = device.Calibration{Curve: "power", KPaAtOneCount: 0.02, Exponent: 1.4}
	for k := range strip.Cells() {
		strip.Calibration.Gains = append(strip.Calibration.Gains, 0.8+0.4*float64(k%2))
	}
	require.NoError(t, strip.Check())
	kPa, counts := make([]float64, 40), make([]uint16, 40)
	for k := range kPa {
		kPa[k] = 40 * float64(k)
	}
	newTestConverter(strip, Faults{Zero: 100}).read(kPa, 0, counts)
	curve := strip.Curve()
	for k, p := range kPa {
		above := float64(counts[k]) - 100
		require.InDelta(t, p, curve.KPa(k, above), 0.51*curve.PerCount(k, above+1)+0.01, "cell %d", k)
	}
	require.InEpsilon(t, 1.5, (float64(counts[39])-100)/(float64(counts[38])-100)*math.Pow(38.0/39, 1/1.4), 0.01, "gains 1.2 and 0.8")
}
