package output_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/cmd/internal/output"
	"aplomb/device"
)

func TestTooSmall(t *testing.T) {
	strip := func(name string, foot device.Foot, change func(*device.Mount)) *device.Strip {
		s := &device.Strip{Name: name, Foot: foot, Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, Mount: device.Mount{SeatSDMM: 1}}
		if change != nil {
			change(&s.Mount)
		}
		return s
	}
	shoe := func(width, depth float64) *device.Shoe {
		return &device.Shoe{Code: "A", PlatformMM: [2]float64{width, depth}, OutlineExponent: 2.5}
	}
	left, right := strip("L-01", device.Left, nil), strip("R-01", device.Right, nil)
	const end = ": load beyond the cells is not measured: take a larger strip"
	const measure = end + ", or see with aplomb strip seat how well mountings repeat"
	for _, c := range []struct {
		width, depth float64
		strips       []*device.Strip
		want         []string
	}{
		{35, 21, []*device.Strip{left, right}, nil},
		{36, 22, []*device.Strip{left, right}, nil}, // 83 % of mountings
		// 14.7 %, as package plan computes it and its test checks.
		{39, 24, []*device.Strip{left, right}, []string{
			"strips L-01 and R-01: the cells reach 0.5 mm beyond platform A on every side; " +
				"with mountings taken to repeat to 1 mm (not measured) one mounting in seven would cover it" + measure}},
		{38, 24, []*device.Strip{left}, []string{
			"strip L-01: the cells reach 0.5 mm beyond platform A on the narrowest sides (back and front); " +
				"with mountings taken to repeat to 1 mm (not measured) one mounting in four would cover it" + measure}},
		{38, 23, []*device.Strip{strip("L-02", device.Left, func(m *device.Mount) { m.SeatSDMM, m.SeatMountings = 0.8, 6 })}, []string{
			"strip L-02: the cells reach 1.0 mm beyond platform A on every side; " +
				"with mountings that repeat to 0.8 mm six mountings in ten would cover it" + end}},
		{36, 22, []*device.Strip{strip("L-03", device.Left, func(m *device.Mount) { m.OffsetMM[1] = -2.5 })}, []string{
			"strip L-03: platform A reaches 1.0 mm beyond the cells on the narrowest side (front); " +
				"with mountings taken to repeat to 1 mm (not measured) one mounting in seven would cover it" + measure}},
		{43, 22, []*device.Strip{right}, []string{
			"strip R-01: platform A reaches 1.5 mm beyond the cells on the narrowest sides (little-toe side and big-toe side); no mounting would cover it" + end}},
	} {
		assert.Equal(t, c.want, output.TooSmall(shoe(c.width, c.depth), c.strips...), "%v × %v", c.width, c.depth)
	}
}
