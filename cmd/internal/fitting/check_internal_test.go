package fitting

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// The line of a recording counts the relevés that count, as the screen did.
func TestCheckLineCountsWhatCounts(t *testing.T) {
	r := &measure.Result{}
	for n := 1; n <= 3; n++ {
		for _, f := range device.Feet {
			r.Releves = append(r.Releves, measure.Releve{N: n, Foot: f, Status: measure.Measured, Discarded: n == 3})
		}
	}
	made := Made{Recording: logbook.Recording{ID: 1}, Result: r, Checked: "whole"}
	assert.Equal(t, "Recording 1: left 2 relevés, right 2 relevés, 2 feet's rises discarded; whole.", checkLine(made))
}
