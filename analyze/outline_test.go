//go:build !race

package analyze_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// The bearing outline belongs to a physical shoe: the one with that mark on either foot,
// or the one of that foot where there is no mark. Padding does not change it.
func TestOutlineBelongsToThePhysicalShoe(t *testing.T) {
	const left, right = device.Left, device.Right
	for name, one := range map[string]struct {
		pressed, held worn
		share         bool
	}{
		"swapped to the other foot":      {worn{shoe: "A", mark: 1, foot: left}, worn{shoe: "A", mark: 1, foot: right}, true},
		"the other shoe, the same foot":  {worn{shoe: "A", mark: 2, foot: left}, worn{shoe: "A", mark: 1, foot: left}, false},
		"the other shoe, the other foot": {worn{shoe: "A", mark: 2, foot: left}, worn{shoe: "A", mark: 1, foot: right}, false},
		"the same mark in another shoe":  {worn{shoe: "B", mark: 1, foot: left}, worn{shoe: "A", mark: 1, foot: left}, false},
		"one without a mark":             {worn{shoe: "A", mark: 1, foot: left}, worn{shoe: "A", foot: left}, false},
		"no marks, the same foot":        {worn{shoe: "A", foot: right}, worn{shoe: "A", foot: right}, true},
		"no marks, the other foot":       {worn{shoe: "A", foot: left}, worn{shoe: "A", foot: right}, false},
		"other padding":                  {worn{shoe: "A", padding: "gel", foot: left}, worn{shoe: "A", foot: left}, true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			pressed, _ := mounted(t, "pressed", one.pressed, true)
			held, truth := mounted(t, "held", one.held, false)
			results, err := analyze.Together(t.Context(), []*analyze.Prepared{pressed, held}, analyze.Options{})
			require.NoError(t, err)
			seat := results[1].Seats.Of(one.held.foot)
			require.Equal(t, measure.EvidenceHolds, seat.Evidence)
			assert.InDelta(t, truth.OverMM, seat.Over.Value, 3*seat.Over.U)
			if one.share {
				assert.Equal(t, []string{results[0].Provenance.Inputs[0].ID}, seat.Outline.From)
			} else {
				assert.Empty(t, seat.Outline.From)
			}
		})
	}
}
