package compare

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
)

func TestPlaceText(t *testing.T) {
	for want, c := range map[string]struct {
		m  measure.Measure
		at float64
		ci *[2]float64
	}{
		"6.4 mm behind the centre (95 % interval 5.8 to 7.1)":                                                                 {measure.Over, -6.4, &[2]float64{-7.1, -5.8}},
		"2.0 mm in front of the centre (95 % interval 1.0 to 3.0)":                                                            {measure.Over, 2, &[2]float64{1, 3}},
		"1.1 mm behind the centre (95 % interval from 0.3 in front to 2.5 behind)":                                            {measure.Over, -1.1, &[2]float64{-2.5, 0.3}},
		"1.1 mm behind the centre (no interval)":                                                                              {measure.Over, -1.1, nil},
		"5.0 mm to the little-toe side of the centre (95 % interval 4.0 to 6.0)":                                              {measure.Medial, -5, &[2]float64{-6, -4}},
		"0.4 mm to the big-toe side of the centre (95 % interval from 0.2 to the little-toe side to 1.0 to the big-toe side)": {measure.Medial, 0.4, &[2]float64{-0.2, 1}},
	} {
		assert.Equal(t, want, PlaceText(c.m, Summary{Mean: c.at, CI95: c.ci}))
	}
	assert.Equal(t, "In B it is over the box, near.", SitsText("B", "sits over the box", []string{"near"}, true))
	assert.Equal(t, "in A the load sits behind the kern (pulled back), far.", SitsText("A", "sits behind the kern (pulled back)", []string{"far"}, false))
}
