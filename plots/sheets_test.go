package plots_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/compare"
	"aplomb/plots"
	"aplomb/plots/internal/invented"
)

// ranked gives a comparison the places that several shoes would have: the
// second and the third share the first place, all others the last.
func ranked(f invented.Fitting) *compare.Comparison {
	c := *f.Comparison
	var shoes []string
	for _, s := range c.Shoes {
		if !slices.Contains(shoes, s.Shoe) {
			shoes = append(shoes, s.Shoe)
		}
	}
	for i := range shoes {
		shoe := shoes[(i+1)%len(shoes)] // the first comes last
		s := compare.Standing{Place: 1, Shoe: shoe}
		if i > 1 {
			s.Place = 3
		}
		c.Ranking = append(c.Ranking, s)
	}
	for _, d := range c.Differences {
		if d.Measure == "over_mm" {
			c.Against = append(c.Against, compare.Against{Difference: d})
		}
	}
	return &c
}

// trend is four visits over six weeks, two of them close together.
func trend() *plots.Trend {
	day := func(n int) time.Time { return time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC).AddDate(0, 0, n) }
	mdc := 2.2
	points := func(values ...float64) []plots.TrendPoint {
		var out []plots.TrendPoint
		for i, v := range values {
			p := plots.TrendPoint{At: day([]int{0, 14, 16, 42}[i]), Value: v, Reference: i == 0}
			if i > 0 {
				p.Wording = "within noise"
				if v-values[0] > mdc {
					p.Wording = "beyond noise"
				}
			}
			out = append(out, p)
		}
		return out
	}
	unknown := points(-4.7, -2.9)
	unknown[1].Wording = ""
	return &plots.Trend{Look: plots.DefaultLook(), Measure: plots.Show("over_mm"), Panels: []plots.TrendPanel{
		{Title: "left foot, shoe A", Points: points(-5.9, -4.4, -3.4, -1.9), MDC: &mdc},
		{Title: "right foot, shoe A", Points: points(-1.2, -1.5, -0.9, -1.0), MDC: &mdc},
		{Title: "left − right, a-code-of-forty-characters-which-is-long-and-longer-still-until-it-must-be-cut", Points: unknown},
		{Title: "one visit", Points: points(-4.7)},
	}}
}

func TestLadderSaysWhoSharesAPlace(t *testing.T) {
	p := plots.NewLadder(ranked(fittings()["seven shoes"]))
	require.Len(t, p.Panels, 2)
	require.Len(t, p.Panels[0].Rungs, 6)
	assert.Equal(t, "place 1, shared: shoe B", p.Panels[0].Rungs[0].Label)
	assert.Equal(t, "place 1, shared: shoe C", p.Panels[0].Rungs[1].Label)
	assert.Equal(t, "place 3, shared: shoe D", p.Panels[0].Rungs[2].Label)
	assert.Equal(t, "A", p.From)
	assert.Equal(t, "place 3, shared", p.Place)
	assert.Contains(t, p.Describe(), "left foot, place 1, shared: shoe B: +")
	assert.Empty(t, plots.NewLadder(invented.Usual().Comparison).Panels, "two shoes are no ladder")
}

func TestTrendSaysItInWords(t *testing.T) {
	found, _, _ := labels(trend())
	var said []string
	for _, l := range found {
		said = append(said, l.text)
	}
	for _, want := range []string{"last visit: beyond noise", "last visit: within noise", "noise not known", "one visit only", "2 Mar 26", "13 Apr 26"} {
		assert.Contains(t, said, want)
	}
	assert.Contains(t, trend().Describe(), "left foot, shoe A: last visit: beyond noise, from −5.9 mm to −1.9 mm.")
}
