package kept

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
)

func TestReleves(t *testing.T) {
	m := &measure.Hold{
		OverMM: -3, UOverMM: 1.1, KernRatio: 0.5, HoldS: 2, Verdict: measure.PulledBack,
		Effects: []measure.Effect{
			{Common: measure.OfMounting, U: map[measure.Measure]measure.StandardUncertainty{measure.KernRatio: {U: 0.3, DOF: 8}}},
			{Common: measure.OfStrip, Draws: map[measure.Measure][]float64{measure.KernRatio: {0.4, -0.4}}},
		},
	}
	all := Releves(&measure.Result{Releves: []measure.Releve{
		{N: 1, Foot: device.Left, FeetUp: 2, StartS: 1.5, Status: measure.Measured, Hold: m},
		{N: 2, Foot: device.Left, Status: measure.Measured, Discarded: true, Hold: m},
		{N: 3, Foot: device.Right, Status: measure.Aborted},
	}})
	require.Len(t, all, 2, "the discarded one is left out")
	assert.Equal(t, "not_over", all[0].Verdict)
	u := map[string]*float64{}
	value := map[string]float64{}
	for _, one := range all[0].Measures {
		u[one.Name], value[one.Name] = one.U, one.Value
	}
	assert.Equal(t, -3.0, value["over_mm"])
	assert.Equal(t, 1.1, *u["over_mm"])
	assert.InDelta(t, 0.5, *u["kern_ratio"], 1e-12) // 3, 4, 5
	assert.Nil(t, u["hold_s"])
	assert.NotContains(t, value, "load_share", "one foot has none")
	assert.True(t, all[1].Aborted)
	assert.Equal(t, 3, all[1].N)
	assert.Empty(t, all[1].Measures)
}
