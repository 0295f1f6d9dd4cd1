package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// Every source with Monte Carlo draws has its own component, two means under one strip
// are subtracted source by source, and only the gains of the cells are separate.
func TestSecondSourceWithDraws(t *testing.T) {
	const other measure.Source = "another"
	g, o := []float64{0.3, -0.4, 0.1, -0.2}, []float64{0.2, 0.1, -0.3, 0.4}
	one, second := NewMean("L-01"), NewMean("L-01")
	one.Add(Part{draws: []drawn{{measure.Gain, g}, {other, o}}}, 1)
	combined := stats.Combined
	assert.InDelta(t, math.Hypot(budget.OfDraws(g).U, budget.OfDraws(o).U), combined(one.Components()...), 1e-12)
	assert.InDelta(t, budget.OfDraws(o).U, combined(one.part.withoutGains()...), 1e-12)

	opposite := []float64{-0.3, 0.4, -0.1, 0.2}
	second.Add(Part{draws: []drawn{{other, o}, {measure.Gain, opposite}}}, 1) // in another order than in one
	others, gains := second.DifferenceFrom(one)
	assert.InDelta(t, 0, combined(others...), 1e-12, "the same draws of the other source cancel")
	assert.InDelta(t, 2*budget.OfDraws(g).U, combined(gains...), 1e-12, "opposite draws of the gains add up")
}

// Bounds cancel between two means on one strip with one calibration, and count in full if
// the calibration differs, a mean is of two strips, or no strip is known.
func TestEffectsThatCancel(t *testing.T) {
	strip := device.Strip{Name: "L-01", Rows: 5, Cols: 8}
	moved, again := strip, strip
	moved.Mount.SeatSDMM = 0.4
	again.Calibration.GainSD = 0.02
	assert.Equal(t, Content(&strip), Content(&moved), "how well it is mounted is no part of what it reads")
	assert.NotEqual(t, Content(&strip), Content(&again))

	bounded := Part{shape: 0.1, bounds: []bound{{"zero drift", 0.3}}}
	u := func(a, b Mean) float64 {
		a.Add(bounded, 2)
		a.Add(bounded, 2)
		b.Add(bounded, 1)
		others, gains := b.DifferenceFrom(a)
		return stats.Combined(append(others, gains...)...)
	}
	full := math.Sqrt(2 * (0.1*0.1 + 0.3*0.3/3))
	assert.InDelta(t, 0.1*math.Sqrt2, u(NewMean("L-01"), NewMean("L-01")), 1e-12)
	assert.InDelta(t, full, u(NewMean("L-01"), NewMean("L-01, calibrated again")), 1e-12)
	assert.InDelta(t, full, u(NewMean("L-01", "L-02"), NewMean("L-01", "L-02")), 1e-12)
	assert.InDelta(t, full, u(Mean{}, Mean{}), 1e-12)
	assert.InDelta(t, 0.5*math.Sqrt2, func() float64 {
		a, b := NewMean("L-01"), NewMean("L-01")
		a.Add(Whole(0.5), 1)
		b.Add(Whole(0.5), 1)
		others, _ := b.DifferenceFrom(a)
		return stats.Combined(others...)
	}(), 1e-12, "what is not known in parts does not cancel")
}
