package hold

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"

	"aplomb/analyze/releve"
)

// The mean logarithm of the age over a rise and a hold agrees with Gauss-Legendre
// quadrature (gonum), and for a rise of zero length with the textbook integral of ln:
// u·(ln u − 1).
func TestMeanLogAge(t *testing.T) {
	for _, rise := range []float64{0.05, 0.3, 2} {
		for _, held := range []float64{0.5, 3, 60} {
			p := releve.Pulse{OnsetS: 7, HoldStartS: 7 + rise, HoldEndS: 7 + rise + held}
			mean := quad.Fixed(func(t float64) float64 {
				// The mean over the parts of the rise, of which the youngest are t − rise
				// old.
				return quad.Fixed(func(s float64) float64 { return math.Log10(t - s) }, 0, rise, 200, nil, 0) / rise
			}, rise, rise+held, 200, nil, 0) / held
			assert.InDelta(t, mean, meanLogAge(p), 2e-4, "%v s up, %v s held", rise, held)
		}
	}
	assert.InDelta(t, math.Log10(5)-1/math.Ln10, meanLogAge(releve.Pulse{OnsetS: 1, HoldStartS: 1, HoldEndS: 6}), 1e-3)
}
