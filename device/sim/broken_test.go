package sim

import (
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"aplomb/device"
	"aplomb/device/crosstalk"
)

// broken reads a strip whose second cell has a fault many times, without load and with
// 1500 kPa on every cell.
func broken(b Broken, f Faults) (rest, loaded []float64) {
	strip := testStrip(device.Left)
	c := newConverter(strip, f, []Broken{b}, stream(1, "cells"), stream(1, "noise"))
	kPa, counts := make([]float64, 40), make([]uint16, 40)
	for i := range 400 {
		clear(kPa)
		c.read(kPa, float64(i)/10, counts)
		rest = append(rest, float64(counts[1]))
		for k := range kPa {
			kPa[k] = 1500
		}
		c.read(kPa, float64(i)/10, counts)
		loaded = append(loaded, float64(counts[1]))
	}
	return rest, loaded
}

func TestBrokenCells(t *testing.T) {
	quiet := Faults{Zero: 100}
	rest, loaded := broken(Broken{Col: 1, How: Dead, FromS: 20}, quiet)
	require.Equal(t, []float64{100, 2100, 2100}, []float64{rest[0], loaded[0], loaded[199]})
	require.Equal(t, []float64{100, 100}, []float64{loaded[200], loaded[399]})

	rest, loaded = broken(Broken{Col: 1, How: Stuck, Value: 777}, Faults{Zero: 100, Noise: 3})
	require.Equal(t, []float64{777, 777}, []float64{stat.Mean(rest, nil), stat.Mean(loaded, nil)})

	_, loaded = broken(Broken{Col: 1, How: StuckBit, Value: 5}, quiet)
	require.Equal(t, 2100.0-32, loaded[0], "2100 is 100000110100 in binary")

	rest, loaded = broken(Broken{Col: 1, How: Noisy, Value: 20}, quiet)
	require.InDelta(t, 20, stat.StdDev(rest, nil), 3)
	require.InDelta(t, 20, stat.StdDev(loaded, nil), 3)

	rest, loaded = broken(Broken{Col: 1, How: Loose, Value: 0.25}, quiet)
	require.InDelta(t, 2100-0.25*2000, stat.Mean(loaded, nil), 100)
	require.Equal(t, 100.0, stat.Mean(rest, nil))

	rest, _ = broken(Broken{Col: 1, How: Drifting, Value: 60}, quiet)
	require.Equal(t, []float64{100, 139}, []float64{rest[0], rest[390]})
}

// Crosstalk follows rows and columns for every order of the scan.
func TestDetours(t *testing.T) {
	strip := testStrip(device.Left)
	strip.Scan, strip.FirstCell = "columns", "front-medial"
	kPa, counts := make([]float64, 40), make([]uint16, 40)
	var ghost int
	for k := range kPa {
		switch row, col := strip.RowCol(k); [2]int{row, col} {
		case [2]int{1, 2}, [2]int{3, 2}, [2]int{3, 6}:
			kPa[k] = 900
		case [2]int{1, 6}:
			ghost = k
		}
	}
	newTestConverter(strip, Faults{Tie: crosstalk.Floating}).read(kPa, 0, counts)
	for k, c := range counts {
		switch {
		case k == ghost:
			require.EqualValues(t, 400, c, "three cells of 1200 in series")
		case kPa[k] > 0:
			require.EqualValues(t, 1200, c, "the fourth cell of the square does not conduct")
		default:
			require.Zero(t, c)
		}
	}
}

func TestBrokenCellThatIsNotThere(t *testing.T) {
	setup := testSetup()
	setup.Feet[1].Broken = []Broken{{Row: 5}}
	_, err := NewSession(setup)
	require.EqualError(t, err, "simulated session: right foot: strip T-right has no cell in row 5, column 0")
}
