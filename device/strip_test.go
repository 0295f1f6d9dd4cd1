package device

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

// grid returns a strip of 2 rows and 3 columns with a pitch of 4 × 5 mm.
func grid(scan, first string) *Strip {
	return &Strip{
		Name: "G", Foot: Left, Rows: 2, Cols: 3, PitchMM: [2]float64{4, 5}, CellMM: [2]float64{4, 5}, ADCBits: 12, SaturatesAt: 4095,
		FirstCell: first, Scan: scan, Calibration: Calibration{KPaPerCount: 1},
	}
}

// Row 0 is the back, column 0 the little-toe side; written out by hand.
func TestScanOrders(t *testing.T) {
	for _, c := range []struct {
		scan, first string
		want        [6][2]int
	}{
		{"rows", "back-lateral", [6][2]int{{0, 0}, {0, 1}, {0, 2}, {1, 0}, {1, 1}, {1, 2}}},
		{"rows", "front-medial", [6][2]int{{1, 2}, {1, 1}, {1, 0}, {0, 2}, {0, 1}, {0, 0}}},
		{"columns", "back-lateral", [6][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}, {0, 2}, {1, 2}}},
		{"columns", "front-lateral", [6][2]int{{1, 0}, {0, 0}, {1, 1}, {0, 1}, {1, 2}, {0, 2}}},
		{"serpentine", "back-lateral", [6][2]int{{0, 0}, {0, 1}, {0, 2}, {1, 2}, {1, 1}, {1, 0}}},
		{"serpentine", "back-medial", [6][2]int{{0, 2}, {0, 1}, {0, 0}, {1, 0}, {1, 1}, {1, 2}}},
	} {
		s := grid(c.scan, c.first)
		for k, want := range c.want {
			row, col := s.RowCol(k)
			assert.Equal(t, want, [2]int{row, col}, "%s from %s, cell %d", c.scan, c.first, k)
		}
	}
}

func anyStrip(t *rapid.T) *Strip {
	s := grid(
		rapid.SampledFrom([]string{"rows", "columns", "serpentine"}).Draw(t, "scan"),
		rapid.SampledFrom([]string{"back-lateral", "back-medial", "front-lateral", "front-medial"}).Draw(t, "first cell"),
	)
	s.Rows, s.Cols = rapid.IntRange(1, 9).Draw(t, "rows"), rapid.IntRange(1, 9).Draw(t, "cols")
	mm := rapid.Float64Range(-5, 5)
	s.Mount = Mount{OffsetMM: [2]float64{mm.Draw(t, "medial"), mm.Draw(t, "over")}, RotationDeg: rapid.Float64Range(-180, 180).Draw(t, "degrees")}
	return s
}

// Every cell is read once, beginning with the one that the profile names.
func TestScanVisitsEveryCell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyStrip(t)
		require.NoError(t, s.Check())
		seen := make(map[[2]int]bool)
		for k := range s.Cells() {
			row, col := s.RowCol(k)
			require.True(t, row >= 0 && row < s.Rows && col >= 0 && col < s.Cols)
			seen[[2]int{row, col}] = true
		}
		require.Len(t, seen, s.Cells())
		want := [2]int{0, 0}
		if strings.HasPrefix(s.FirstCell, "front") {
			want[0] = s.Rows - 1
		}
		if strings.HasSuffix(s.FirstCell, "medial") {
			want[1] = s.Cols - 1
		}
		row, col := s.RowCol(0)
		require.Equal(t, want, [2]int{row, col})
	})
}

func TestPlacesOfCells(t *testing.T) {
	s := grid("rows", "back-lateral")
	assert.Equal(t, platform.Point{-4, -2.5}, s.Centre(0, 0), "back, little-toe side")
	assert.Equal(t, platform.Point{4, 2.5}, s.Centre(1, 2), "front, big-toe side")
	assert.Equal(t, platform.Polygon{{-6, -5}, {6, -5}, {6, 5}, {-6, 5}}, s.Outline())
	assert.Equal(t, platform.Polygon{{-2, -5}, {2, -5}, {2, 0}, {-2, 0}}, s.CellOutline(0, 1))
	assert.Equal(t, 20.0, s.CellArea())

	// A rotation by 90° takes +medial to +over. The offset is applied after it.
	s.Mount = Mount{OffsetMM: [2]float64{1, 2}, RotationDeg: 90}
	c := s.Centre(1, 2)
	assert.InDeltaSlice(t, []float64{1 - 2.5, 2 + 4}, c[:], 1e-12)

	// Both feet have the same axes, so the cells of a right strip have the same places.
	right := *s
	right.Foot = Right
	assert.Equal(t, s.Centre(0, 2), right.Centre(0, 2))
}

// The outlines of the cells tile the grid for every mount, each around its own centre.
func TestCellsTileTheGrid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyStrip(t)
		whole := s.Outline().Moments()
		var area, medial, over float64
		for row := range s.Rows {
			for col := range s.Cols {
				m := s.CellOutline(row, col).Moments()
				c := s.Centre(row, col)
				assert.InDelta(t, s.CellArea(), m.Area, 1e-9)
				assert.InDeltaSlice(t, c[:], m.Centroid[:], 1e-9)
				area, medial, over = area+m.Area, medial+m.Area*c[0], over+m.Area*c[1]
			}
		}
		assert.InDelta(t, whole.Area, area, 1e-9)
		assert.InDeltaSlice(t, s.Mount.OffsetMM[:], []float64{medial / area, over / area}, 1e-9)
		assert.InDeltaSlice(t, s.Mount.OffsetMM[:], whole.Centroid[:], 1e-9)
	})
}

func TestCovers(t *testing.T) {
	s := grid("rows", "back-lateral") // 12 × 10 mm
	assert.InDelta(t, 1, s.CoveredShare(platform.Rectangle(12, 10)), 1e-12)
	assert.InDelta(t, 0.5, s.CoveredShare(platform.Rectangle(24, 10)), 1e-12)
	s.Mount.OffsetMM = [2]float64{6, 0}
	assert.InDelta(t, 0.5, s.CoveredShare(platform.Rectangle(12, 10)), 1e-12)
	s.Mount.OffsetMM = [2]float64{60, 0}
	assert.Zero(t, s.CoveredShare(platform.Rectangle(12, 10)))
	s.Mount = Mount{RotationDeg: 45}
	assert.InDelta(t, 1, s.CoveredShare(platform.Rectangle(7, 7)), 1e-12)
}

func TestMargins(t *testing.T) {
	s := grid("rows", "back-lateral") // 12 × 10 mm
	margins := func(w, d float64) (all []float64) {
		m := s.Margins(platform.Rectangle(w, d))
		return append(m[0][:], m[1][:]...)
	}
	assert.InDeltaSlice(t, []float64{1, 1, 0.5, 0.5}, margins(10, 9), 1e-12)
	s.Mount.OffsetMM = [2]float64{2, -1} // towards the big toe, and back
	assert.InDeltaSlice(t, []float64{-1, 3, 1.5, -0.5}, margins(10, 9), 1e-12)
	s.Mount = Mount{RotationDeg: 90} // its columns now run from back to front
	assert.InDeltaSlice(t, []float64{1.5, 1.5, 0, 0}, margins(10, 9), 1e-12)

	// A strip covers all of an outline where no margin is negative, and only there.
	rapid.Check(t, func(t *rapid.T) {
		s := anyStrip(t)
		outline := platform.Rectangle(rapid.Float64Range(1, 60).Draw(t, "width"), rapid.Float64Range(1, 60).Draw(t, "depth"))
		m := s.Margins(outline)
		least := min(m[0][0], m[0][1], m[1][0], m[1][1])
		if math.Abs(least) > 1e-6 {
			assert.Equal(t, least > 0, s.CoveredShare(outline) > 1-1e-12, "%v", m)
		}
	})
}

func TestFootNames(t *testing.T) {
	for _, f := range []Foot{Left, Right, NoFoot} {
		text, err := f.MarshalText()
		require.NoError(t, err)
		var back Foot
		require.NoError(t, back.UnmarshalText(text))
		assert.Equal(t, f, back)
	}
	_, err := ParseFoot("Left")
	assert.ErrorContains(t, err, `foot "Left": write left or right`)
	data, err := json.Marshal(map[string]Foot{"foot": Right})
	require.NoError(t, err)
	assert.JSONEq(t, `{"foot": "right"}`, string(data))
}

func TestSuperellipseOfAShoe(t *testing.T) {
	s := &Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2}
	require.NoError(t, s.Check())
	assert.InEpsilon(t, math.Pi*18*11, s.Outline().Area(), 1e-3)
}
