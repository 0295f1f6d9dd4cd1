package logbook

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/device"
)

// The stored seats are returned with the relevés of other recordings.
func TestMountingRows(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	kept := keepThree(t, l, v)
	seated := func(n int, foot device.Foot, over float64) measure.Releve {
		r := releve(n, foot, over, 0.5)
		share := 0.45
		r.LoadShare = &share
		r.Effects = []measure.Effect{{
			Common: measure.OfMounting, Evidence: measure.EvidencePress,
			U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: 0.2, DOF: measure.Unlimited}},
		}}
		return r
	}
	for i, r := range kept[:2] {
		require.NoError(t, l.PutMeasures(r.ID, result("1", seated(1, device.Left, float64(-i)), seated(1, device.Right, 1))))
	}
	releves, err := l.Releves(kept[0].ID)
	require.NoError(t, err)
	assert.Equal(t, measure.EvidencePress, releves[0].Evidence)
	assert.Equal(t, 0.2, valueOf(t, releves[0], measure.Over).USeat)

	all, err := l.MountingRows(nil)
	require.NoError(t, err)
	others, err := l.MountingRows(kept[:1])
	require.NoError(t, err)
	assert.Len(t, others, len(all)/2)
	var over, shares []mounting.Row
	for _, r := range others {
		switch r.Measure {
		case measure.Over:
			over = append(over, r)
		case measure.LoadShare:
			shares = append(shares, r)
		}
	}
	require.Len(t, over, 2)
	assert.Equal(t, mounting.Row{
		Dancer: "D7", Recording: over[0].Recording, Group: over[0].Group, Mounting: "mounted at noon", Measure: measure.Over,
		Value: -1, SeatU: 0.2, Evidence: measure.EvidencePress,
	}, over[0])
	assert.NotEqual(t, over[0].Group, over[1].Group, "each foot by itself")
	assert.Len(t, shares, 1, "one number for both feet")
}
