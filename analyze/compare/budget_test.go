package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
)

// The budget of one recording's mean contains the mounting effect and adds up to the
// uncertainty of the mean; an effect estimated from repeated mountings replaces the
// assumption.
func TestBudgetOfAMean(t *testing.T) {
	one := day{shoe: shoe("A"), mounting: "1", left: []float64{-8, -8.5, -7.5, -8}, seatSD: 0.4}.result(0)
	alone, err := Results([]*measure.Result{one}, Options{Practice: true})
	require.NoError(t, err)
	s := alone.Shoes[0].Measures[measure.Over]
	require.NotNil(t, s.Budget)
	got := map[measure.Source]float64{}
	shares, squares := 0.0, 0.0
	for _, l := range s.Budget.Sources {
		got[l.Source], shares, squares = l.U, shares+l.Share, squares+l.U*l.U
	}
	assert.InDeltaMapValues(t, map[measure.Source]float64{
		ofReleves: math.Sqrt(0.5/3) / 2, ofSeat: 0.4, ofMounting: alone.Mountings[measure.Over].SD, ofSensor: 0,
	}, got, 1e-12)
	assert.Equal(t, mounting.Assumed, alone.Mountings[measure.Over].From)
	assert.Contains(t, s.Budget.Sources[2].Basis, "our assumption (2 degrees of freedom)")
	assert.InDelta(t, 1, shares, 1e-9)
	assert.InDelta(t, s.U*s.U, squares, 1e-12)
	assert.Equal(t, s.U, s.Budget.U)
	assert.InDelta(t, s.CI95[1]-s.Mean, s.Budget.Expanded, 1e-9)
	assert.Nil(t, alone.Shoes[0].Measures[measure.PeakPressure].Budget)

	pooled, err := Results([]*measure.Result{one}, Options{Practice: true, Earlier: exactly()})
	require.NoError(t, err)
	l := pooled.Shoes[0].Measures[measure.Over].Budget.Sources[2]
	assert.Equal(t, measure.TypeA, l.Type)
	assert.InDelta(t, 0, l.U, 1e-12)
}

// The scatter is unknown with one relevé, so its mean has no interval and no budget.
func TestOneReleveHasNoBudgetOfAMean(t *testing.T) {
	c := of(t, day{shoe: shoe("A"), mounting: "1", left: []float64{-8}})
	assert.Nil(t, c.Shoes[0].Measures[measure.Over].Budget)
}

// Relevés that are also in the logbook count once.
func TestKeptRelevesCountOnce(t *testing.T) {
	results := []*measure.Result{
		day{shoe: shoe("A"), mounting: "1", left: []float64{-8, -8.5, -7.5}}.result(0),
		day{shoe: shoe("A"), mounting: "2", left: []float64{-7.8, -8.2, -7.6}}.result(1),
	}
	both, err := Results(results, Options{})
	require.NoError(t, err)
	last, err := Results(results[1:], Options{Earlier: mounting.Rows(results), Kept: true})
	require.NoError(t, err)
	assert.Equal(t, both.Mountings, last.Mountings)
	assert.Equal(t, float64(mounting.AssumedDOF+1), last.Mountings[measure.Over].DOF)
}
