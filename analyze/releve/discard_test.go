package releve_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"aplomb/analyze/releve"
)

func TestDiscarded(t *testing.T) {
	// The second began later and ended earlier, because one foot stayed up in the first.
	ends := []float64{10, 6, 20}
	for _, c := range []struct {
		name  string
		marks []releve.Mark
		want  []bool
	}{
		{"none", nil, []bool{false, false, false}},
		{"too early", []releve.Mark{{TimeS: 5}}, []bool{false, false, false}},
		{"the one over last", []releve.Mark{{TimeS: 12}}, []bool{true, false, false}},
		{"then the one before", []releve.Mark{{TimeS: 12}, {TimeS: 13}}, []bool{true, true, false}},
		{"no more to discard", []releve.Mark{{TimeS: 12}, {TimeS: 13}, {TimeS: 14}}, []bool{true, true, false}},
		{"back", []releve.Mark{{TimeS: 12}, {TimeS: 13}, {TimeS: 14, Undo: true}}, []bool{true, false, false}},
		{"back, nothing to take back", []releve.Mark{{TimeS: 14, Undo: true}, {TimeS: 30}}, []bool{false, false, true}},
	} {
		assert.Equal(t, c.want, releve.ApplyMarks(ends, c.marks), c.name)
	}
}

// Undoing the last mark restores the state before it.
func TestDiscardTakenBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ends := rapid.SliceOfN(rapid.Float64Range(0, 100), 1, 8).Draw(t, "ends")
		var marks []releve.Mark
		for _, at := range rapid.SliceOfN(rapid.Float64Range(0, 120), 0, 8).Draw(t, "marks") {
			marks = append(marks, releve.Mark{TimeS: at, Undo: rapid.Bool().Draw(t, "back")})
		}
		before := releve.ApplyMarks(ends, marks)
		late := slices.Max(ends) + 1
		after := releve.ApplyMarks(ends, append(slices.Clone(marks), releve.Mark{TimeS: late}))
		if slices.Contains(before, false) {
			assert.NotEqual(t, before, after, "there was one to discard")
			marks = append(marks, releve.Mark{TimeS: late})
			assert.Equal(t, before, releve.ApplyMarks(ends, append(marks, releve.Mark{TimeS: late + 1, Undo: true})))
		}
	})
}
