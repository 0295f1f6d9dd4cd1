package logbook

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPlanIsKept(t *testing.T) {
	l := begin(t)
	v, other := visit(t, l, "D7"), visit(t, l, "D7")
	for _, code := range []string{"A", "B"} {
		require.NoError(t, l.AddShoe(Shoe{Shoe: shoe(code)}))
	}
	_, err := l.Plan(v.ID)
	oneLine(t, err, ErrNotFound)
	mirrored := Plan{Seed: math.MaxUint64, Releves: 5, Steps: []PlanStep{{"A", 1}, {"B", 1}, {"B", 2}, {"A", 2}}}
	require.NoError(t, l.PutPlan(v.ID, Plan{Releves: 1, Steps: []PlanStep{{"B", 1}}}))
	require.NoError(t, l.PutPlan(v.ID, mirrored))
	kept, err := l.Plan(v.ID)
	require.NoError(t, err)
	assert.Equal(t, mirrored, kept, "the later one stands, whole")
	_, err = l.Plan(other.ID)
	oneLine(t, err, ErrNotFound)

	oneLine(t, l.PutPlan(v.ID, Plan{Releves: 5, Steps: []PlanStep{{"A", 1}, {"Z", 1}}}), ErrNotFound, `"Z"`)
	oneLine(t, l.PutPlan(v.ID, Plan{Releves: 5}), ErrInvalid)
	oneLine(t, l.PutPlan(v.ID, Plan{Steps: mirrored.Steps}), ErrInvalid)
	oneLine(t, l.PutPlan(v.ID, Plan{Releves: 5, Steps: []PlanStep{{"A", 0}}}), ErrInvalid)
	oneLine(t, l.PutPlan(99, mirrored), ErrNotFound)
	kept, err = l.Plan(v.ID)
	require.NoError(t, err)
	assert.Equal(t, mirrored, kept, "what was refused changed nothing")

	require.NoError(t, l.RemoveVisit(v.ID), "a plan is no recording")
	_, err = l.Plan(v.ID)
	oneLine(t, err, ErrNotFound)
}

// A shoe can go although it is planned: that no recording was made with it is
// what counts. The rest of the plan stands.
func TestShoeThatGoesLeavesThePlan(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	for _, code := range []string{"A", "B"} {
		require.NoError(t, l.AddShoe(Shoe{Shoe: shoe(code)}))
	}
	require.NoError(t, l.PutPlan(v.ID, Plan{Releves: 5, Steps: []PlanStep{{"A", 1}, {"B", 1}, {"B", 2}, {"A", 2}}}))
	require.NoError(t, l.RemoveShoe("B"))
	p, err := l.Plan(v.ID)
	require.NoError(t, err)
	assert.Equal(t, []PlanStep{{"A", 1}, {"A", 2}}, p.Steps)
	require.NoError(t, l.RemoveShoe("A"))
	_, err = l.Plan(v.ID)
	oneLine(t, err, ErrNotFound)
	findings, err := l.Check()
	require.NoError(t, err)
	assert.Empty(t, findings)
}

func TestPlanOfAnErasedDancerIsGone(t *testing.T) {
	l := begin(t)
	gone, stays := visit(t, l, "D7"), visit(t, l, "D8")
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("SECRETSHOE"), Owner: "D7"}))
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("A")}))
	for _, v := range []Visit{gone, stays} {
		require.NoError(t, l.PutPlan(v.ID, Plan{Seed: 7, Releves: 3, Steps: []PlanStep{{"SECRETSHOE", 1}, {"A", 1}}}))
	}
	backup := filepath.Join(t.TempDir(), "backup")
	require.NoError(t, l.Backup(backup))
	_, err := l.DeleteDancer("D7")
	require.NoError(t, err)
	p, err := l.Plan(stays.ID)
	require.NoError(t, err)
	assert.Equal(t, []PlanStep{{"A", 1}}, p.Steps, "another's plan does not keep the dancer's own shoe")
	_, err = l.Plan(gone.ID)
	oneLine(t, err, ErrNotFound)
	require.NoError(t, l.Close())
	assert.Empty(t, holds(t, l.Dir()))
	p, err = reopen(t, backup).Plan(gone.ID)
	require.NoError(t, err)
	assert.Equal(t, Plan{Seed: 7, Releves: 3, Steps: []PlanStep{{"SECRETSHOE", 1}, {"A", 1}}}, p, "a backup has plans too")
}
