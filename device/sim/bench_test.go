package sim

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/platform"
)

// The cells read the whole load of a pad at its place: the sum of pressure times area over
// the cells and its first moment are computed by hand.
func TestBenchPressesWhatItIsTold(t *testing.T) {
	strip := &device.Strip{
		Name: "L-01", Foot: device.Left, Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		ADCBits: 16, SaturatesAt: 65535, FirstCell: "front-medial", Scan: "columns",
		Mount:       device.Mount{OffsetMM: [2]float64{3, 2}, RotationDeg: 5}, // which has no effect on a bench
		Calibration: device.Calibration{KPaPerCount: 0.01},
	}
	b, err := NewBench(strip, Faults{}, 1, time.Unix(0, 0), 100)
	require.NoError(t, err)
	flat := *strip
	flat.Mount = device.Mount{}
	for _, at := range []platform.Point{{0, 0}, {10, 5}, {-7.5, -2.5}} {
		b.Put(80, at, [2]float64{15, 10})
		var f device.Frame
		require.NoError(t, b.Next(&f))
		load, medial, over := 0.0, 0.0, 0.0
		for k, n := range f.Counts {
			newtons := 0.01 * float64(n) * 25 / 1000
			c := flat.Centre(flat.RowCol(k))
			load, medial, over = load+newtons, medial+newtons*c[0], over+newtons*c[1]
		}
		assert.InDelta(t, 80, load, 0.01)
		assert.InDelta(t, at[0], medial/load, 0.01, "a pad on whole and half cells has its middle where theirs is")
		assert.InDelta(t, at[1], over/load, 0.01)
	}
	_, err = NewBench(strip, Faults{}, 1, time.Unix(0, 0), 0)
	assert.ErrorContains(t, err, "0 frames a second")
}
