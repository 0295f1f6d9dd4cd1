package logbook

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// The logbook stores a file's feedback, marks, padding and fixing. Mountings that differ
// in one of them, in position or in floor give no estimate of the mounting effect.
func TestConditionsOfRecordings(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	groups := map[string]string{}
	for i, one := range []struct {
		name string
		set  func(m *device.Metadata, s *device.Side)
	}{
		{"as it is", func(*device.Metadata, *device.Side) {}},
		{"feedback", func(m *device.Metadata, _ *device.Side) { m.Feedback = "after" }},
		{"position", func(m *device.Metadata, _ *device.Side) { m.Position = "parallel" }},
		{"floor", func(m *device.Metadata, _ *device.Side) { m.Floor = "wood" }},
		{"mark", func(_ *device.Metadata, s *device.Side) { s.Mark = 2 }},
		{"padding", func(_ *device.Metadata, s *device.Side) { s.Padding = "gel" }},
		{"fixing", func(_ *device.Metadata, s *device.Side) { s.Fixing = "tape" }},
	} {
		m := about("D7", "", shoe("A"))
		m.Started = m.Started.Add(time.Duration(i) * time.Minute)
		one.set(&m, m.Sides[device.Left])
		r := keep(t, l, v, m)
		assert.Equal(t, m.Feedback, r.Feedback)
		side, foot := m.Sides[device.Left], r.Feet[device.Left]
		assert.Equal(t, []any{side.Mark, side.Padding, side.Fixing}, []any{foot.Mark, foot.Padding, foot.Fixing})
		require.NoError(t, l.PutMeasures(r.ID, result("1", releve(1, device.Left, -1, 0.5))))
		rows, err := l.MountingRows(nil, nil)
		require.NoError(t, err)
		group := rows[len(rows)-1].Group
		assert.Empty(t, groups[group], "%s is in one group with %s", one.name, groups[group])
		groups[group] = one.name
	}
	assert.Len(t, groups, 7)
}

// Measures of practice with live feedback are kept apart, and are used in no follow-up,
// no pool of mountings and no plan.
func TestPracticeIsLeftOut(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("A")}))
	require.NoError(t, l.PutPlan(v.ID, steps(1, "A")))
	m := about("D7", "", shoe("A"))
	m.Feedback = device.FeedbackLive
	r := keep(t, l, v, m)
	require.NoError(t, l.PutMeasures(r.ID, result("1", releve(1, device.Left, -1, 0.5))))
	releves, err := l.Releves(r.ID)
	require.NoError(t, err)
	assert.Len(t, releves, 1)
	rows, err := l.MountingRows(nil, nil)
	require.NoError(t, err)
	assert.Empty(t, rows)
	_, err = l.FollowUp("D7", measure.Over, nil, fresh())
	assert.ErrorIs(t, err, ErrNotMeasured)
	p, err := l.PlanProgress(v.ID)
	require.NoError(t, err)
	assert.Zero(t, p.Next)
}
