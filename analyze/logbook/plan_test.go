package logbook

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/plan"
	"aplomb/device"
)

func TestPlanIsKept(t *testing.T) {
	l := begin(t)
	v, other := visit(t, l, "D7"), visit(t, l, "D7")
	for _, code := range []string{"A", "B"} {
		require.NoError(t, l.AddShoe(Shoe{Shoe: shoe(code)}))
	}
	_, err := l.Plan(v.ID)
	oneLine(t, err, ErrNotFound)
	mirrored, err := plan.Mirrored([]string{"A", "B"}, 2, 5, math.MaxUint64)
	require.NoError(t, err)
	mirrored.Feet = [2]bool{true, true}
	mirrored.Shoes = []string{mirrored.Steps[0].Shoe, mirrored.Steps[1].Shoe} // as they are worn
	require.NoError(t, l.PutPlan(v.ID, steps(1, "B")))
	require.NoError(t, l.PutPlan(v.ID, mirrored))
	kept, err := l.Plan(v.ID)
	require.NoError(t, err)
	assert.Equal(t, mirrored, kept, "the later one stands, whole")
	_, err = l.Plan(other.ID)
	oneLine(t, err, ErrNotFound)

	oneLine(t, l.PutPlan(v.ID, steps(5, "A", "Z")), ErrNotFound, `"Z"`)
	oneLine(t, l.PutPlan(v.ID, plan.Plan{Releves: 5}), ErrInvalid)
	oneLine(t, l.PutPlan(v.ID, plan.Plan{Steps: mirrored.Steps}), ErrInvalid)
	oneLine(t, l.PutPlan(v.ID, plan.Plan{Releves: 5, Steps: []plan.Step{{Shoe: "A", Releves: 5}}}), ErrInvalid)
	oneLine(t, l.PutPlan(99, mirrored), ErrNotFound)
	kept, err = l.Plan(v.ID)
	require.NoError(t, err)
	assert.Equal(t, mirrored, kept, "what was refused changed nothing")

	require.NoError(t, l.RemoveVisit(v.ID), "a plan is no recording")
	_, err = l.Plan(v.ID)
	oneLine(t, err, ErrNotFound)
}

// A planned shoe can be removed if no recording was made with it. The rest of the plan
// stays.
func TestRemovedShoeLeavesThePlan(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	for _, code := range []string{"A", "B"} {
		require.NoError(t, l.AddShoe(Shoe{Shoe: shoe(code)}))
	}
	require.NoError(t, l.PutPlan(v.ID, steps(5, "A", "B", "B", "A")))
	require.NoError(t, l.RemoveShoe("B"))
	p, err := l.Plan(v.ID)
	require.NoError(t, err)
	assert.Equal(t, []string{"A 1", "A 2"}, worn(p))
	require.NoError(t, l.RemoveShoe("A"))
	_, err = l.Plan(v.ID)
	oneLine(t, err, ErrNotFound)
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)
}

func TestPlanOfAnErasedDancerIsGone(t *testing.T) {
	l := begin(t)
	gone, stays := visit(t, l, "D7"), visit(t, l, "D8")
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("SECRETSHOE"), Owner: "D7"}))
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("A")}))
	for _, v := range []Visit{gone, stays} {
		require.NoError(t, l.PutPlan(v.ID, steps(3, "SECRETSHOE", "A")))
	}
	backup := filepath.Join(t.TempDir(), "backup")
	require.NoError(t, l.Backup(bg, backup))
	_, err := l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	p, err := l.Plan(stays.ID)
	require.NoError(t, err)
	assert.Equal(t, []string{"A 1"}, worn(p), "another's plan does not keep the dancer's own shoe")
	_, err = l.Plan(gone.ID)
	oneLine(t, err, ErrNotFound)
	require.NoError(t, l.Close())
	assert.Empty(t, holds(t, l.Dir()))
	p, err = reopen(t, backup).Plan(gone.ID)
	require.NoError(t, err)
	assert.Equal(t, steps(3, "SECRETSHOE", "A"), p, "a backup has plans too")
}

func TestRecorded(t *testing.T) {
	foot := func(shoe, mounting string) *RecordedFoot {
		return &RecordedFoot{Shoe: shoe, Mounting: mounting}
	}
	rose := func(feet ...device.Foot) (all []Releve) {
		for i, f := range feet {
			all = append(all, Releve{N: i + 1, Foot: f})
		}
		return all
	}
	const l, r = device.Left, device.Right
	both := Recording{ID: 12, Measures: Current, Feet: [2]*RecordedFoot{foot("A", "m1"), foot("A", "m2")}}
	feet := [2]bool{true, true}
	assert.Equal(t, plan.Recorded{Name: "12", Shoe: "A", Mounting: "m1 / m2", Feet: feet, Releves: [2]int{1, 2}}, Recorded(both, rose(l, r, r)))
	both.Feet[r].Mounting, both.Feet[r].Shoe = "", "B"
	assert.Equal(t, plan.Recorded{Name: "12", Shoe: "A / B", Feet: feet}, Recorded(both, []Releve{{Foot: l, Aborted: true}}))
	both.Measures = Stale
	assert.Equal(t, [2]int{-1, -1}, Recorded(both, rose(l, r)).Releves, "stale measures count nowhere")
	one := Recording{ID: 13, Feet: [2]*RecordedFoot{nil, foot("A", "m2")}}
	assert.Equal(t, plan.Recorded{Name: "13", Shoe: "A", Mounting: "m2", Feet: [2]bool{false, true}, Releves: [2]int{-1, -1}}, Recorded(one, nil), "not measured is not none")
	assert.Equal(t, 3, CountMeasured(rose(r, r, r)), "a foot that never rose does not count")
}

func TestNoiseOver(t *testing.T) {
	strip := func(name string, version int, seat float64, mountings int, now bool) Strip {
		s := device.Strip{Name: name, Mount: device.Mount{SeatSDMM: seat, SeatMountings: mountings}}
		return Strip{Strip: s, Version: version, Current: now}
	}
	assert.Equal(t, plan.Noise{Scatter: 1, Seat: 1, SeatDOF: 8, Assumed: true, Effect: mounting.New(nil).Effect("D7", measure.Over)}, noiseOver("D7", nil, nil), "nothing is known")

	strips := []Strip{strip("L", 1, 3, 0, false), strip("L", 2, 0.4, 10, true), strip("R", 1, 0.3, 10, true)}
	u := func(v float64) *float64 { return &v }
	row := func(dancer, mounting string, recording int64, value float64, u *float64) MeasureRow {
		return MeasureRow{
			Dancer: dancer, Strip: "L", StripVersion: 2, Shoe: "A", Mounting: mounting, RecordingID: recording,
			Measure: measure.Over, Value: value, U: u,
		}
	}
	rows := []MeasureRow{
		// 3, 4, 5: beside a seat of 0.4 an uncertainty of 0.5 leaves 0.3.
		row("D7", "m", 1, -1, u(0.5)), row("D7", "m", 2, 1, u(0.5)), // one mounting over two recordings
		row("D7", "", 3, 100, nil), row("D7", "", 4, 200, nil), // each may be another mounting, and tells nothing
		row("D8", "m", 5, 50, u(0.4)), // another dancer's scatter is their own
	}
	n := noiseOver("D7", rows, strips)
	assert.Equal(t, "L", n.Strip, "the least repeatable by its profile of now")
	assert.Equal(t, 0.4, n.Seat)
	assert.Equal(t, 9.0, n.SeatDOF)
	assert.False(t, n.Assumed)
	assert.InDelta(t, 1.4142, n.Scatter, 1e-4) // sd of −1 and 1
	assert.Equal(t, 1.0, n.ScatterDOF)
	assert.InDelta(t, 0.3*0.8165, n.Sensor, 1e-4) // √(2/3)
	assert.Contains(t, n.RestsOn(), "as measured for strip L; besides, mountings differ by 0.3 mm, our assumption; the strip itself adds up to 0.2 mm to a difference, by the measured relevés.")
	// A relevé of before the strip was measured: the seat of that version is taken off.
	before := row("D8", "n", 6, 0, u(3))
	before.StripVersion = 1
	assert.Zero(t, noiseOver("D7", []MeasureRow{before}, strips).Sensor)

	// A pad press shows the seat, so that the profile's repeatability does not count.
	pressed := row("D7", "p", 7, 0, u(0.5))
	pressed.USeat, pressed.Evidence = 0.3, measure.EvidencePress
	n = noiseOver("D7", []MeasureRow{pressed}, strips)
	assert.Equal(t, 0.3, n.Seat)
	assert.True(t, math.IsInf(n.SeatDOF, 1))
	assert.InDelta(t, 0.4, n.Sensor, 1e-12) // 3, 4, 5
	assert.Contains(t, n.RestsOn(), "a new mounting of strip L with a pad press adds 0.3 mm, as those so far")
}
