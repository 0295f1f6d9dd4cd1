package output_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
	"aplomb/cmd/internal/output"
)

// After pad presses the seat of a mounting is known with unlimited degrees of freedom,
// which JSON leaves out.
func TestPlanAfterPresses(t *testing.T) {
	p, err := plan.Mirrored([]string{"A", "B"}, 2, 5, 1)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, output.JSON(&b, output.PlanJSON(logbook.Visit{Dancer: "D7"}, p, plan.Noise{Scatter: 0.5, ScatterDOF: 40, Seat: 0.1, SeatDOF: math.Inf(1)})))
	assert.Contains(t, b.String(), `"seat_mm":0.1,"seat_assumed"`)
	b.Reset()
	require.NoError(t, output.JSON(&b, output.PlanJSON(logbook.Visit{Dancer: "D7"}, p, plan.Noise{Scatter: 0.5, Seat: 1, SeatDOF: 8})))
	assert.Contains(t, b.String(), `"seat_mm":1,"seat_dof":8,`)
}
