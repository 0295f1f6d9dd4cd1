package compare_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
)

// F(0.95; 2, 10) is 4.103 (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.3).
func TestRegionOfAPlace(t *testing.T) {
	few, many := 10.0, 40.0
	f := compare.ShoeFoot{Measures: map[measure.Measure]compare.Summary{
		measure.Over:   {Mean: -3, U: 0.8, DOF: &few, CI95: &[2]float64{}},
		measure.Medial: {Mean: 1, U: 0.5, DOF: &many, CI95: &[2]float64{}},
	}}
	half, ok := f.Region95()
	assert.True(t, ok)
	assert.InDelta(t, 2.8646*0.5, half[0], 1e-3, "the fewer degrees of freedom count")
	assert.InDelta(t, 2.8646*0.8, half[1], 1e-3)

	f.Measures[measure.Medial] = compare.Summary{Mean: 1, U: 0.5}
	_, ok = f.Region95()
	assert.False(t, ok, "a single relevé")
}
