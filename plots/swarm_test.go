package plots_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"

	"aplomb/plots"
)

// Marks do not touch if the row is high enough, and stay in the row otherwise.
func TestSwarmSpreadsMarks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var at []vg.Length
		for _, x := range rapid.SliceOfN(rapid.IntRange(0, 60), 0, 40).Draw(t, "values") {
			at = append(at, vg.Length(x)/2)
		}
		const size = 4.4
		up := plots.Swarm(at, size, 1e6)
		assert.Equal(t, up, plots.Swarm(at, size, 1e6), "the same values, the same picture")
		for i := range at {
			for j := range i {
				apart := math.Hypot(float64(at[i]-at[j]), float64(up[i]-up[j]))
				assert.GreaterOrEqual(t, apart, size*(1-1e-6), "marks %d and %d", i, j)
			}
		}
		for _, u := range plots.Swarm(at, size, 8) {
			assert.LessOrEqual(t, math.Abs(float64(u)), 4+1e-9)
		}
	})
}

func TestSwarmOfFewMarks(t *testing.T) {
	assert.Equal(t, []vg.Length{0, 0, 0}, plots.Swarm([]vg.Length{30, 10, 20}, 4, 100), "apart, they stay in the middle")
	assert.Equal(t, []vg.Length{0, 4, -4}, plots.Swarm([]vg.Length{5, 5, 5}, 4, 100), "equal values go up and down in turn")
	assert.Equal(t, []vg.Length{0, 1, -1}, plots.Swarm([]vg.Length{5, 5, 5}, 4, 2), "in a low row they overlap")
	up := plots.Swarm([]vg.Length{5, vg.Length(math.NaN()), 5}, 4, 100)
	assert.Equal(t, []vg.Length{0, 0, 4}, up, "what is not a number stays")
	assert.Empty(t, plots.Swarm(nil, 4, 100))
	many := slices.Repeat([]vg.Length{7}, 40)
	assert.Len(t, plots.Swarm(many, 4, 9), 40)
}

// Panels of one measure have one axis: of both feet, of all shoes, in every panel of the
// ladder. The axis of contact share is 0 to 100 %.
func TestPanelsOfAMeasureShareTheirAxis(t *testing.T) {
	c := ranked(fittings()["seven shoes"])
	type limits struct{ lo, hi float64 }
	met := map[string]map[limits]bool{}
	add := func(what string, lo, hi float64) {
		if met[what] == nil {
			met[what] = map[limits]bool{}
		}
		met[what][limits{lo, hi}] = true
		if what == "shoes contact_share" || what == "feet contact_share" {
			assert.Equal(t, limits{0, 100}, limits{lo, hi}, what)
		}
	}
	plots.EachAxis(c, add)
	assert.Len(t, met, 9, "four measures of shoes and of feet, and the ladder")
	for what, all := range met {
		assert.Len(t, all, 1, what)
	}
}
