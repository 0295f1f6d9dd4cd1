package compare

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// twoShoes returns two shoes with a standard deviation of 1 mm over n relevés of one
// mounting each.
func twoShoes(seat float64) []day {
	return []day{
		{shoe: shoe("A"), mounting: "1", left: []float64{-7, -6, -5}, seatSD: seat},
		{shoe: shoe("B"), mounting: "2", left: []float64{-1, 0, 1}, seatSD: seat},
	}
}

// By hand: each mean of three with a standard deviation of 1 has the variance 1/3; the
// seats add 1 each. The dancer's share of 8/3 is a quarter.
func TestVarianceShares(t *testing.T) {
	c := of(t, twoShoes(1)...)
	r := c.RestsOn
	require.NotNil(t, r)
	assert.Equal(t, measure.Over, r.Measure)
	assert.InDelta(t, 0.25, r.Dancer, 1e-9)
	assert.InDelta(t, 0.75, r.Mounting, 1e-9)
	assert.InDelta(t, 0, r.Sensor, 1e-9)
	d := c.difference(t, measure.Over, r.Foot)
	assert.InDelta(t, (d.CI95[1]-d.CI95[0])/2, r.HalfWidth, 1e-9)

	// Two mountings with three relevés each: variances 1/6 and 1/2 a shoe. The scatter
	// then has 4 degrees of freedom a shoe; the default seat has 8, for both shoes together.
	require.Len(t, r.Remedies, 2)
	assert.Equal(t, "mounting the strip twice under each shoe", r.Remedies[0].Do)
	u := math.Sqrt(2 * (1.0/6 + 1.0/2))
	dof := math.Pow(u, 4) / (2*math.Pow(1.0/6, 2)/4 + 1.0/8)
	assert.InDelta(t, stats.TQuantile(0.975, dof)*u, r.Remedies[0].HalfWidth, 1e-9)
	// Three more relevés: 1/6 each with 5 degrees of freedom.
	u = math.Sqrt(2 * (1.0/6 + 1))
	dof = math.Pow(u, 4) / (2*math.Pow(1.0/6, 2)/5 + 4.0/8)
	assert.Equal(t, "3 more relevés in each shoe", r.Remedies[1].Do)
	assert.InDelta(t, stats.TQuantile(0.975, dof)*u, r.Remedies[1].HalfWidth, 1e-9)

	assert.Equal(t, "What the difference in over from A to B on the left foot, ±3.6 mm, rests on: "+
		"the seats of the strips 75 %, the dancer 25 %, the mounting effect under 1 % and the sensor under 1 % of the variance. "+
		"Mountings differ by 0.0 mm beyond relevés and seat, from this dancer's mountings (299 degrees of freedom).", r.SharesText())
	assert.Equal(t, "Mounting the strip twice under each shoe would bring it to ±2.5 mm, 3 more relevés in each shoe to ±3.4 mm.", r.RemediesText())
}

// Without uncertainty of mounting only more relevés narrow the interval.
func TestVarianceOfTheDancer(t *testing.T) {
	r := of(t, twoShoes(0)...).RestsOn
	require.NotNil(t, r)
	assert.InDelta(t, 1, r.Dancer, 1e-9)
	assert.Equal(t, "the dancer", r.Parts()[0].Of)
}

func TestNoVarianceShares(t *testing.T) {
	one := of(t, twoShoes(1)[0])
	assert.Nil(t, one.RestsOn, "one shoe")
	single := of(t, day{shoe: shoe("A"), mounting: "1", left: []float64{-7}}, day{shoe: shoe("B"), mounting: "2", left: []float64{0}})
	assert.Nil(t, single.RestsOn, "no interval")
	data, err := json.Marshal(single)
	require.NoError(t, err)
	assert.NotContains(t, string(data), "rests_on")
}

// The variance is that of the clearest difference on the foot that decides the answer,
// left or right.
func TestVarianceOfTheDecidingDifference(t *testing.T) {
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: []float64{0, 0.1, 0.2}, right: []float64{-8, -7.9, -8.1}, seatSD: 0.5},
		day{shoe: shoe("B"), mounting: "2", left: []float64{0, 0.1, 0.2}, right: []float64{0, 0.1, 0.2}, seatSD: 0.5},
		day{shoe: shoe("C"), mounting: "3", left: []float64{0, 0.1, 0.2}, right: []float64{-8, -7.9, -8.1}, seatSD: 0.5})
	require.NotNil(t, c.RestsOn)
	assert.Equal(t, "right", c.RestsOn.Foot.String())
	assert.Equal(t, "B", c.RestsOn.To)
}

// withSensor adds effects of the strip on over to every relevé of a result.
func withSensor(r *measure.Result, gain []float64, grid, zero float64) *measure.Result {
	for _, one := range r.Releves {
		one.Effects = append(one.Effects,
			measure.Effect{Source: measure.Gain, Distribution: measure.Normal, Common: measure.OfStrip, Draws: map[measure.Measure][]float64{measure.Over: gain}},
			measure.Effect{Source: "grid", Distribution: measure.Normal, Common: measure.OfShape, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: grid, DOF: measure.Unlimited}}},
			measure.Effect{Source: "zero", Distribution: measure.Rectangular, Common: measure.OfStrip, Bound: map[measure.Measure]float64{measure.Over: zero}})
	}
	return r
}

// Under one strip the effects of gains and of drift cancel as far as they are equal in
// both shoes; the reconstruction error does not.
func TestSensorInADifference(t *testing.T) {
	days := twoShoes(0)
	u := func(gainA, gainB []float64, gridA, gridB, zeroA, zeroB float64, otherStrip bool) float64 {
		a, b := withSensor(days[0].result(0), gainA, gridA, zeroA), withSensor(days[1].result(1), gainB, gridB, zeroB)
		if otherStrip {
			b.Meta.Sides[0].Strip.Name = "L-02"
		}
		c, err := Results([]*measure.Result{a, b}, Options{Earlier: exactly()})
		require.NoError(t, err)
		v := c.difference(t, measure.Over, 0).U
		return math.Sqrt(max(0, v*v-2.0/3)) // without the scatter
	}
	g := []float64{0.3, -0.4, 0.1, -0.2}
	turned := []float64{-0.3, 0.4, -0.1, 0.2}
	assert.InDelta(t, 0, u(g, g, 0, 0, 0, 0, false), 1e-7, "the same gains at the same place")
	assert.InDelta(t, 2*budget.OfDraws(g).U, u(g, turned, 0, 0, 0, 0, false), 1e-9, "to opposite effect")
	assert.InDelta(t, budget.OfDraws(g).U*math.Sqrt2, u(g, g, 0, 0, 0, 0, true), 1e-9, "two strips")
	assert.InDelta(t, 0.5, u(nil, nil, 0.3, 0.4, 0, 0, false), 1e-9, "grid")
	assert.InDelta(t, 0, u(nil, nil, 0, 0, 0.6, 0.6, false), 1e-7, "the same drift")
	assert.InDelta(t, 0.8/math.Sqrt(3), u(nil, nil, 0, 0, 0.6, -0.2, false), 1e-9, "drifts apart")
	assert.InDelta(t, 0.6*math.Sqrt2/math.Sqrt(3), u(nil, nil, 0, 0, 0.6, 0.6, true), 1e-9, "each of two strips drifts by itself")
}

// Shares add up to 1, no remedy widens the interval, and the most effective is first.
func TestVarianceSharesAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		days := twoShoes(rapid.Float64Range(0, 2).Draw(rt, "seat"))
		for i := range days {
			days[i].left = rapid.SliceOfN(rapid.Float64Range(-5, 5), 2, 8).Draw(rt, "over")
		}
		a := withSensor(days[0].result(0), []float64{rapid.Float64Range(-1, 1).Draw(rt, "a"), 0.1}, 0.1, 0)
		b := withSensor(days[1].result(1), []float64{rapid.Float64Range(-1, 1).Draw(rt, "b"), 0.1}, 0.1, 0.2)
		c, err := Results([]*measure.Result{a, b}, Options{})
		require.NoError(t, err)
		if c.RestsOn == nil {
			assert.NotEmpty(t, c.Preferred, "a preference that rests on verdicts alone")
			return
		}
		r := c.RestsOn
		assert.InDelta(t, 1, r.Dancer+r.Mounting+r.Effect+r.Sensor, 1e-9)
		least := 0.0
		for _, m := range r.Remedies {
			assert.GreaterOrEqual(t, m.HalfWidth, least)
			least = m.HalfWidth
		}
		assert.NotEmpty(t, r.SharesText())
		assert.NotEmpty(t, r.RemediesText())
	})
}
