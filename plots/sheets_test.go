package plots_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots"
	"aplomb/plots/internal/exampledata"
)

// ranked returns the comparison with a ranking: the second and the third shoe share
// the first place, all others the third.
func ranked(f exampledata.Fitting) *compare.Comparison {
	c := *f.Comparison
	var shoes []string
	for _, s := range c.Shoes {
		if !slices.Contains(shoes, s.Shoe) {
			shoes = append(shoes, s.Shoe)
		}
	}
	for i := range shoes {
		shoe := shoes[(i+1)%len(shoes)] // the first shoe is the last of the ranking
		s := compare.RankedShoe{Place: 1, Shoe: shoe}
		if i > 1 {
			s.Place = 3
		}
		c.Ranking = append(c.Ranking, s)
	}
	for _, d := range c.Differences {
		if d.Measure == measure.Over {
			d.Conditions = c.Shoes[0].Conditions
			c.Against = append(c.Against, compare.AgainstFirst{Difference: d})
		}
	}
	return &c
}

// Some file systems do not tell a capital letter from a small one.
func TestPicturesOfShoesThatDifferInCase(t *testing.T) {
	small := exampledata.B
	small.Shoe.Code = "a"
	f := exampledata.New(1, 2, device.Feet[:], exampledata.A, small)
	names := map[string]bool{}
	for _, p := range plots.All(nil, f.Comparison) {
		assert.False(t, names[strings.ToLower(p.Name)], p.Name)
		names[strings.ToLower(p.Name)] = true
	}
	assert.True(t, names["feet-a"])
	assert.True(t, names["feet-a-2"])
}

func TestFactsOfAShoe(t *testing.T) {
	like := exampledata.A
	like.Shoe.CrownMM = 24.5
	p := plots.NewPlatforms(exampledata.New(1, 2, device.Feet[:], like).Comparison)
	assert.Equal(t, "tapered box, crown 24.5 mm, soft shank", p.Rows[0].Facts)
}

func TestLadderNamesSharedPlaces(t *testing.T) {
	p := plots.NewLadder(ranked(fittings()["seven shoes"]))
	require.Len(t, p.Panels, 2)
	require.Len(t, p.Panels[0].Diffs, 6)
	assert.Equal(t, "place 1, shared: shoe B", p.Panels[0].Diffs[0].Label)
	assert.Equal(t, "place 1, shared: shoe C", p.Panels[0].Diffs[1].Label)
	assert.Equal(t, "place 3, shared: shoe D", p.Panels[0].Diffs[2].Label)
	assert.Equal(t, "A", p.From)
	from, to := fittings()["seven shoes"].Comparison.Shoes[0], fittings()["seven shoes"].Comparison.Shoes[2]
	require.Equal(t, []string{"A", "B"}, []string{from.Shoe, to.Shoe})
	_, front := to.Platform.Kern.Bounds()
	assert.InDelta(t, front[1]-from.Measures[measure.Over].Mean, p.Panels[0].Diffs[0].Target[1], 1e-9,
		"the difference that takes the load from its place in A to the front of the kern of B")
	assert.Equal(t, "place 3, shared", p.Place)
	assert.Contains(t, p.Describe(), "left foot, barre, roll-up, place 1, shared: shoe B: +")
	assert.Empty(t, plots.NewLadder(exampledata.Usual().Comparison).Panels, "a ladder needs three shoes")
}
