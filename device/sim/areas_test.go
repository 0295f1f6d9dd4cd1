package sim

import (
	"testing"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/platform"
)

func testStrip(foot device.Foot) *device.Strip {
	return &device.Strip{
		Name: "T-" + foot.String(), Foot: foot, Rows: 5, Cols: 8,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
		Mount:       device.Mount{SeatSDMM: 1},
		Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: device.DefaultGainSD},
	}
}

// Cells without gaps that extend beyond the outline carry the whole load.
func TestCellsBearTheLoad(t *testing.T) {
	strip := testStrip(device.Left)
	strip.Mount = device.Mount{OffsetMM: [2]float64{0.7, -0.4}, RotationDeg: 1.5}
	for _, height := range []float64{0, 0.3} {
		sole := NewSole(platform.Superellipse(36, 22, 2.5), height, 1500)
		pads := NewActiveAreas(strip, sole)
		kPa := make([]float64, strip.Cells())
		for _, q := range []platform.Point{{0, 0}, {1, -5}, {-4, 3}} {
			pose, err := sole.Solve(290, q, Pose{})
			require.NoError(t, err)
			pads.Read(pose, kPa)
			sum := 0.0
			for _, p := range kPa {
				sum += p * 25 / 1000
			}
			near := 1e-9
			if height > 0 {
				near = 5e-4 // cells and platform are cut into different tiles
			}
			require.InEpsilon(t, 290, sum, near)
		}
	}
}

// A cell reads the mean of the pressure over its active area, in the order of its scan.
func TestCellIsTheMeanOfThePressure(t *testing.T) {
	strip := testStrip(device.Right)
	strip.CellMM = [2]float64{4, 3.5}
	strip.Scan, strip.FirstCell = "serpentine", "front-medial"
	strip.Mount = device.Mount{OffsetMM: [2]float64{-0.8, 1.1}, RotationDeg: -3}
	for _, height := range []float64{0, 0.3} {
		sole := NewSole(platform.Superellipse(34, 21, 2.5), height, 1500)
		pose, err := sole.Solve(280, platform.Point{-2, -4.5}, Pose{})
		require.NoError(t, err)
		kPa := make([]float64, strip.Cells())
		NewActiveAreas(strip, sole).Read(pose, kPa)
		for k := range kPa {
			row, col := strip.RowCol(k)
			const n = 40
			sum := 0.0
			for i := range n {
				for j := range n {
					// A point of the strip's own frame, from the cell's place in the grid.
					q := strip.ToPlatform(platform.Point{
						(float64(col)-3.5)*5 + 4*((float64(i)+0.5)/n-0.5),
						(float64(row)-2)*5 + 3.5*((float64(j)+0.5)/n-0.5),
					})
					if superellipse(34, 21, 2.5, q) {
						sum += sole.Pressure(pose, q)
					}
				}
			}
			require.InDelta(t, sum/(n*n), kPa[k], 0.01*sole.Peak(pose), "cell %d, %d", row, col)
		}
	}
}
