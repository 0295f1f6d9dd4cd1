package analyze_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// Relevés on a strip that reads 150 N unloaded and drifts by 40 N during each load have
// the same results as without drift: no warning says that the recording begins under
// load, and the budget of the load contains the drift.
func TestStrongDrift(t *testing.T) {
	const loads, climb, offset = 4, 40.0, 150.0
	m := meta(on(device.Left))
	frames := shoot(m, [2][][]float64{standing(loads, bed{force: 400, e: -3}), nil})
	newton := m.Sides[device.Left].Strip.Curve().Counts(0, 1000.0/(40*25)) // counts on each of 40 cells of 25 mm²
	for i := range frames {
		at := (seconds(&frames[i]) - pause) / (2*up + held + pause)
		number, in := math.Modf(max(0, at))
		done := number + min(1, in*(2*up+held+pause)/(2*up+held))
		for k := range frames[i].Counts {
			uneven := 0.5 + float64(k)/39
			// The load varies, because a dancer never stands as still as a weight.
			tremor := 1 + 0.004*math.Sin(50*seconds(&frames[i]))
			frames[i].Counts[k] = uint16(math.Round(tremor*float64(frames[i].Counts[k]) + newton*(offset+climb*min(loads, done))*uneven))
		}
	}
	r := analyzed(t, m, frames)
	assert.NotContains(t, words.Warnings(r.Warnings), "left: the recording begins under load: its zero is taken from a later time")
	require.Len(t, r.Releves, loads)
	for i, one := range r.Releves {
		require.NotNil(t, one.Hold)
		assert.InDelta(t, pause+float64(i)*(2*up+held+pause)+0.1*up, one.StartS, 0.02)
		assert.InDelta(t, held+2*edge, one.HoldS, 0.05)
		assert.InDelta(t, 400*onHold, one.LoadN, 1.5)
		assert.InDelta(t, -3, one.OverMM, 0.05)
		assert.InDelta(t, 0, one.MedialMM, 0.05)
	}
	// In the middle of a hold the zero is off by up to half of its drift.
	for _, one := range budgeted(t, m, frames) {
		assert.InEpsilon(t, climb/2/math.Sqrt(3), from(t, one.Budget[measure.Load], hold.ZeroDrift).U, 0.15)
	}
}
