package compare

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
)

// Under uniform pressure a cell reads that pressure times its share within the outline.
// The mean map of two mountings at different offsets and rotations is that of a strip at
// the profile's seat.
func TestMeanMapAtTheProfilesSeat(t *testing.T) {
	const kPa = 300
	strip := &device.Strip{
		Name: "L", Foot: device.Left, Rows: 6, Cols: 9, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		FirstCell: "back-lateral", Scan: "rows", Mount: device.Mount{OffsetMM: [2]float64{0.5, 0}, SeatSDMM: 1},
	}
	outline := platform.Superellipse(36, 22, 2.5)
	share := func(s *device.Strip, k int) float64 {
		return outline.Clip(s.CellOutline(s.RowCol(k))).Area() / s.CellArea()
	}
	var results []*measure.Result
	for i, at := range []*measure.Seat{
		nil,
		{Evidence: measure.EvidencePress, Medial: measure.Estimate{Value: -1}, Over: measure.Estimate{Value: 2.1}, Rotation: measure.Estimate{Value: 3}},
		{Evidence: measure.EvidenceHolds, Medial: measure.Estimate{Value: 1.3}, Over: measure.Estimate{Value: -1.7}, Rotation: measure.Estimate{Value: -2}},
		{Evidence: measure.EvidenceAssumed},
	} {
		r := day{shoe: shoe("A"), mounting: string(rune('a' + i)), left: []float64{0}}.result(i)
		r.Meta.Sides[device.Left].Strip = strip
		r.Platforms.Set(device.Left, measure.Platform{Outline: outline, Kern: outline.Kern()})
		lay := *strip
		if at != nil {
			r.Seats.Set(device.Left, *at)
			lay = seated(strip, at)
		}
		reads := make([]float64, strip.Cells())
		for k := range reads {
			reads[k] = kPa * share(&lay, k)
		}
		r.Releves[0].Hold.Map = reads
		results = append(results, r)
	}
	c, err := Results(results, Options{})
	require.NoError(t, err)
	require.Len(t, c.Shoes, 1)
	for k, got := range c.Shoes[0].MeanMap {
		want := kPa * share(strip, k)
		assert.LessOrEqual(t, got, want+1e-6, "cell %d", k)
		if want >= kPa*leastShare { // of the others a strip elsewhere may tell nothing
			assert.InDelta(t, want, got, 1e-6, "cell %d", k)
		}
	}
}
