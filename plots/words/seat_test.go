package words_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

func TestSeat(t *testing.T) {
	about := func(value, half float64) measure.Estimate {
		return measure.Estimate{Value: value, CI95: [2]float64{value - half, value + half}}
	}
	profile := device.Mount{OffsetMM: [2]float64{0.5, 1}}
	for _, c := range []struct {
		seat   measure.Seat
		expect string
	}{
		{measure.Seat{Evidence: measure.EvidencePress, Medial: about(0.8, 0.3), Over: about(-0.2, 0.4)},
			"lies, by the pad press, 1.2 ± 0.4 mm further back and 0.3 ± 0.3 mm further to the big-toe side than its profile says"},
		{measure.Seat{Evidence: measure.EvidenceHolds, Medial: about(0.1, 0.4), Over: about(2, 1.1)},
			"lies, by the maps of its relevés, 1.0 ± 1.1 mm further forward and 0.4 ± 0.4 mm further to the little-toe side than its profile says"},
		{measure.Seat{Evidence: measure.EvidencePress, Medial: about(0.46, 0.3), Over: about(1, 0.4)},
			"lies, by the pad press, 0.0 ± 0.4 mm further forward and 0.0 ± 0.3 mm further to the big-toe side than its profile says"},
		{measure.Seat{Evidence: measure.EvidenceAssumed, Over: about(0, 2.3)}, "is taken to lie where its profile says, to ± 2.3 mm"},
	} {
		assert.Equal(t, c.expect, words.Seat(&c.seat, profile))
	}
}

func TestSeatWorth(t *testing.T) {
	r := &measure.Result{}
	assert.Empty(t, words.SeatWorth([]*measure.Result{r}))
	r.Meta.Sides[device.Left] = &device.Side{Strip: &device.Strip{Mount: device.Mount{SeatSDMM: 1, SeatFreedom: 8}}}
	r.Seats.Set(device.Left, measure.Seat{Evidence: measure.EvidencePress, Over: measure.Estimate{CI95: [2]float64{-0.4, 0.4}}})
	// 2.306 is the quantile of Student's t with 8 degrees of freedom (any table).
	assert.Equal(t, "Front to back a seat that was found is known to ±0.4 mm; the seat that its profile claims would be known to ±2.3 mm.",
		words.SeatWorth([]*measure.Result{r}))
}

func TestMove(t *testing.T) {
	m := &measure.Move{
		Medial: measure.Estimate{Value: -0.42, CI95: [2]float64{-0.72, -0.12}},
		Over:   measure.Estimate{Value: 0.7, CI95: [2]float64{0.4, 1}},
	}
	assert.Equal(t, "0.7 ± 0.3 mm forward and 0.4 ± 0.3 mm to the little-toe side", words.Move(m))
}
