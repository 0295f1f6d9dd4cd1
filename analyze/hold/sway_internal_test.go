package hold

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// A scatter with nine degrees of freedom, half of whose variance is noise, leaves a
// quarter of nine without the noise (u² = a² − b² and Var u² = Var a² = 2a⁴/9). Together
// with the noise, which is known exactly, that is the scatter with nine degrees of
// freedom again.
func TestWithoutNoise(t *testing.T) {
	left := withoutNoise(2, math.Sqrt2, 9)
	assert.InDelta(t, math.Sqrt2, left.U, 1e-12)
	assert.InDelta(t, 9.0/4, float64(left.DOF), 1e-9)
	scatter, noise := stats.Component{U: left.U, DOF: float64(left.DOF)}, stats.Component{U: math.Sqrt2, DOF: math.Inf(1)}
	assert.InDelta(t, 2, stats.Combined(scatter, noise), 1e-12)
	assert.InDelta(t, 9, stats.EffectiveDOF(scatter, noise), 1e-9)
	assert.Equal(t, measure.StandardUncertainty{U: 2, DOF: 9}, withoutNoise(2, 0, 9))
	for _, none := range []float64{0, 1, math.NaN()} {
		assert.Equal(t, measure.StandardUncertainty{DOF: 9}, withoutNoise(none, 1, 9))
	}
}
