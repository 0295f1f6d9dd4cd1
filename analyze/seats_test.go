package analyze

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/seat"
	"aplomb/device"
)

// The maps of a press that was not used are not counted.
func TestSeatReportCountsTheMapsThatWereUsed(t *testing.T) {
	in := &seat.Input{Strip: &device.Strip{}, Maps: []seat.Map{{Kind: seat.Press}, {Kind: seat.Press}, {Kind: seat.Hold}, {Kind: seat.Press, Press: 1}}}
	for _, one := range []struct {
		leftOut seat.Reason
		press   int
		maps    int
	}{{"", 0, 3}, {seat.FewMaps, 1, 2}, {seat.Slipped, 0, 1}} {
		found := &seat.Seat{Evidence: seat.FromPress, LeftOut: one.leftOut, LeftOutPress: one.press}
		assert.Equal(t, one.maps, seatReport(in, found).Presses)
	}
}
