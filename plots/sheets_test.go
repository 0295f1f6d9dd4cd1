package plots_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/plots"
	"aplomb/plots/internal/exampledata"
	"aplomb/plots/words"
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

// trend is a picture of four visits over six weeks, two of them close together.
func trend() *plots.Trend {
	day := func(n int) time.Time { return time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC).AddDate(0, 0, n) }
	mdc := 2.2
	points := func(values ...float64) []plots.TrendPoint {
		var out []plots.TrendPoint
		for i, v := range values {
			p := plots.TrendPoint{At: day([]int{0, 14, 16, 42}[i]), Value: v, Reference: i == 0}
			if i > 0 {
				p.Wording = track.WithinNoise
				if v-values[0] > mdc {
					p.Wording = track.BeyondNoise
				}
			}
			out = append(out, p)
		}
		return out
	}
	unknown := points(-4.7, -2.9)
	unknown[1].Wording = ""
	return &plots.Trend{Theme: plots.DefaultTheme(), Measure: words.DisplayOf(measure.Over), Panels: []plots.TrendPanel{
		{Title: "left foot, shoe A", Points: points(-5.9, -4.4, -3.4, -1.9), MDC: &mdc},
		{Title: "right foot, shoe A", Points: points(-1.2, -1.5, -0.9, -1.0), MDC: &mdc},
		{Title: "left − right, a-code-of-forty-characters-which-is-long-and-longer-still-until-it-must-be-cut", Points: unknown},
		{Title: "one visit", Points: points(-4.7)},
	}}
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

func TestTrendHasItsWordings(t *testing.T) {
	found, _, _ := labels(trend())
	var written []string
	for _, l := range found {
		written = append(written, l.text)
	}
	for _, want := range []string{"last visit: beyond noise", "last visit: within noise", "noise not known", "one visit only", "2 Mar 26", "13 Apr 26"} {
		assert.Contains(t, written, want)
	}
	assert.Contains(t, trend().Describe(), "left foot, shoe A: last visit: beyond noise, from −5.9 mm to −1.9 mm.")
}

// A follow-up is drawn in display units, with the band of the minimal detectable
// change.
func TestTrendOfAFollowUp(t *testing.T) {
	var rows []track.Row
	for visit, share := range []float64{0.60, 0.62, 0.95} {
		for mounting, off := range []float64{-0.02, 0, 0.02} {
			for n := range 2 {
				rows = append(rows, track.Row{
					Dancer: "D7", Visit: fmt.Sprint(visit), At: time.Date(2026, 3, 1+7*visit, 0, 0, 0, 0, time.UTC), Shoe: "A", Support: "barre",
					Recording: fmt.Sprint(visit, mounting), Mounting: fmt.Sprint(visit, mounting), N: n + 1, Value: share + off,
				})
			}
		}
	}
	f, err := track.Follow(measure.ContactShare, "D7", rows)
	require.NoError(t, err)
	p := plots.NewTrend(f)
	require.Len(t, p.Panels, 1)
	panel := p.Panels[0]
	assert.Equal(t, "left foot, shoe A, barre", panel.Title)
	require.NotNil(t, panel.MDC)
	// t for 6 degrees of freedom: 2.45 (JCGM 100:2008, table G.2).
	assert.InDelta(t, 2.45*math.Sqrt2*2, *panel.MDC, 0.01, "the mountings of a visit have a standard deviation of 2 %")
	require.Len(t, panel.Points, 3)
	assert.InDelta(t, 60, panel.Points[0].Value, 1e-9)
	assert.True(t, panel.Points[0].Reference)
	assert.Equal(t, track.WithinNoise, panel.Points[1].Wording)
	assert.Equal(t, track.BeyondNoise, panel.Points[2].Wording)

	with, _, _ := labels(p)
	_, _, tall := labels(p)
	p.NoLegend = true
	without, _, low := labels(p)
	assert.Less(t, len(without), len(with))
	assert.Less(t, low, tall)

	f.Series[0].Repeat = nil
	assert.Nil(t, plots.NewTrend(f).Panels[0].MDC)
}
