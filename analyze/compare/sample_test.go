package compare

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// A sample with more mountings has the numbers of one in which they were made, each with the
// mean number of relevés.
func TestExtendedSampleIsThatOfItsReleves(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		groups := rapid.SliceOfN(rapid.SliceOfN(rapid.Float64Range(-9, 9), 1, 4), 1, 4).Draw(rt, "values by mounting")
		s := newSample(groups, 0, math.Inf(1))
		more := rapid.IntRange(0, 4).Draw(rt, "more mountings")
		made := slices.Clone(groups)
		for range more {
			made = append(made, make([]float64, int(math.Round(float64(s.n)/float64(len(groups))))))
		}
		want, got := newSample(made, 0, math.Inf(1)), s.extended(0, len(made))
		assert.Equal(rt, want.n, got.n)
		assert.Equal(rt, want.scatterDOF, got.scatterDOF)
		assert.InDelta(rt, want.mountings, got.mountings, 1e-9)
	})
}

// Where one mounting has fewer relevés than the others, further mountings narrow the interval
// as they do elsewhere.
func TestUnequalMountingsAreNotHopeless(t *testing.T) {
	s := newSample([][]float64{{0, 1}, {0, 1}, {0}}, 1, 8)
	more := s.extended(0, 4).summary().CI95
	assert.Less(t, more[1]-more[0], s.summary().CI95[1]-s.summary().CI95[0])
}
