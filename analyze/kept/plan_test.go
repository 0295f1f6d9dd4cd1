package kept

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
	"aplomb/device"
)

func TestPlanThereAndBack(t *testing.T) {
	p, err := plan.Mirrored([]string{"A", "B", "C"}, 3, 5, 1<<63)
	require.NoError(t, err)
	back := Plan(PlanOf(p))
	assert.ElementsMatch(t, p.Shoes, back.Shoes)
	back.Shoes = p.Shoes
	assert.Equal(t, p, back)
}

func TestRecorded(t *testing.T) {
	foot := func(shoe, mounting string) *logbook.RecordedFoot {
		return &logbook.RecordedFoot{Shoe: shoe, Mounting: mounting}
	}
	rose := func(feet ...device.Foot) (all []logbook.Releve) {
		for i, f := range feet {
			all = append(all, logbook.Releve{N: i + 1, Foot: f})
		}
		return all
	}
	const l, r = device.Left, device.Right
	both := logbook.Recording{ID: 12, Measured: "1", Feet: [2]*logbook.RecordedFoot{foot("A", "m1"), foot("A", "m2")}}
	assert.Equal(t, plan.Recorded{Name: "12", Shoe: "A", Mounting: "m1 / m2", Releves: 1}, Recorded(both, rose(l, r, r)))
	both.Feet[r].Mounting, both.Feet[r].Shoe = "", "B"
	assert.Equal(t, plan.Recorded{Name: "12", Shoe: "A / B", Releves: 0}, Recorded(both, []logbook.Releve{{Foot: l, Aborted: true}}))
	one := logbook.Recording{ID: 13, Feet: [2]*logbook.RecordedFoot{nil, foot("A", "m2")}}
	assert.Equal(t, plan.Recorded{Name: "13", Shoe: "A", Mounting: "m2", Releves: -1}, Recorded(one, nil), "not measured is not none")
	assert.Equal(t, 3, Risen(rose(r, r, r)), "a foot that never rose does not count")
}

func TestNoiseOver(t *testing.T) {
	strip := func(name string, version int, seat float64, mountings int, now bool) logbook.Strip {
		s := device.Strip{Name: name, Mount: device.Mount{SeatSDMM: seat, SeatMountings: mountings}}
		return logbook.Strip{Strip: s, Version: version, Current: now}
	}
	assert.Equal(t, plan.Noise{Scatter: 1, Seat: 1, SeatDOF: 8, Assumed: true}, NoiseOver("D7", nil, nil), "nothing is known")

	strips := []logbook.Strip{strip("L", 1, 3, 0, false), strip("L", 2, 0.4, 10, true), strip("R", 1, 0.3, 10, true)}
	u := func(v float64) *float64 { return &v }
	row := func(dancer, mounting string, recording int64, value float64, u *float64) logbook.MeasureRow {
		return logbook.MeasureRow{
			Dancer: dancer, Strip: "L", StripVersion: 2, Shoe: "A", Mounting: mounting, RecordingID: recording,
			Measure: logbook.Measure{Name: "over_mm", Value: value, U: u},
		}
	}
	rows := []logbook.MeasureRow{
		// 3, 4, 5: beside a seat of 0.4 an uncertainty of 0.5 leaves 0.3.
		row("D7", "m", 1, -1, u(0.5)), row("D7", "m", 2, 1, u(0.5)), // one mounting over two recordings
		row("D7", "", 3, 100, nil), row("D7", "", 4, 200, nil), // each may be another mounting, and tells nothing
		row("D8", "m", 5, 50, u(0.4)), // another dancer's scatter is their own
	}
	n := NoiseOver("D7", rows, strips)
	assert.Equal(t, "L", n.Strip, "the least repeatable by its profile of now")
	assert.Equal(t, 0.4, n.Seat)
	assert.Equal(t, 9.0, n.SeatDOF)
	assert.False(t, n.Assumed)
	assert.InDelta(t, 1.4142, n.Scatter, 1e-4) // sd of −1 and 1
	assert.Equal(t, 1.0, n.ScatterDOF)
	assert.InDelta(t, 0.3*0.8165, n.Sensor, 1e-4) // √(2/3)
	assert.Contains(t, n.RestsOn(), "as measured for strip L; the strip itself adds up to 0.2 mm to a difference, by the measured relevés.")
	// A relevé of before the strip was measured: the seat of that version is taken off.
	before := row("D8", "n", 6, 0, u(3))
	before.StripVersion = 1
	assert.Zero(t, NoiseOver("D7", []logbook.MeasureRow{before}, strips).Sensor)
}
