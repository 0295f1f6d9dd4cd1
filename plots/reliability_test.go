package plots_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/reliability"
	"aplomb/analyze/track"
	"aplomb/plots"
)

// repeated returns the reliability of a measure on both feet, with invented numbers.
func repeated() *reliability.Reliability {
	r := &reliability.Reliability{Measure: measure.Over}
	for i, side := range []track.Side{track.Left, track.Right} {
		by := 1 + float64(i)
		f := reliability.Foot{Side: side, Between: reliability.Visits, Components: []reliability.Component{
			{Of: reliability.OfDancer, With: []reliability.Level{reliability.OfShoe}, SD: 2.1 * by, CI95: [2]float64{1.5, 3.9}, Share: 0.78},
			{Of: reliability.OfDay, SD: 0, CI95: [2]float64{0, 0.9}},
			{Of: reliability.OfMounting, SD: 0.7, CI95: [2]float64{0.4, 1.1}, Share: 0.12},
			{Of: reliability.OfStrip, SD: 0.3, CI95: [2]float64{0, 40}, Share: 0.03},
			{Of: reliability.OfReleve, SD: 0.5, CI95: [2]float64{0.45, 0.56}, Share: 0.07},
		}}
		a := &reliability.Agreement{N: 12, Bias: 0.1, BiasCI: [2]float64{-0.3, 0.5}, SD: 0.6, Lower: -1.1 * by, LowCI: [2]float64{-1.9 * by, -0.8 * by}, Upper: 1.3 * by, UpCI: [2]float64{by, 2.1 * by}}
		for k := range 12 {
			a.Pairs = append(a.Pairs, reliability.Pair{Dancer: "D7", Mean: -6 + 0.7*float64(k), Difference: 0.1 + 0.6*float64(k%5-2)})
		}
		f.Agreement = a
		r.Feet = append(r.Feet, f)
	}
	return r
}

func TestPicturesOfReliability(t *testing.T) {
	all := plots.Reliability(repeated())
	require.Len(t, all, 2)
	assert.Equal(t, "components-over_mm", all[0].Name)
	assert.Contains(t, all[0].Describe(), "left foot: dancer + shoe 2.10 mm, 78 % of the variance, day 0.00 mm")
	assert.Equal(t, "agreement-over_mm", all[1].Name)
	assert.Contains(t, all[1].Describe(), "right foot, first visit less second: bias 0.10 mm, 95 % limits of agreement −2.20 mm and 2.60 mm, 12 pairs.")
	assert.Empty(t, plots.Reliability(&reliability.Reliability{Measure: measure.Over, Feet: []reliability.Foot{{Side: track.Left}}}), "nothing could be told")
}
