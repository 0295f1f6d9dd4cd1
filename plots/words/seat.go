package words

import (
	"fmt"
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// SeatIs and MountingEffectIs say what these terms mean.
const (
	SeatIs           = "The seat of a strip is where it lies against the platform in one mounting."
	MountingEffectIs = "The mounting effect is what differs between mountings of a shoe beyond its relevés and seats."
)

// Seat returns the seat of a strip relative to its profile in words, with its evidence
// and half-widths of 95 % intervals. It follows the name of the strip in a sentence.
func Seat(s *measure.Seat, profile device.Mount) string {
	by := "by the maps of its relevés"
	switch s.Evidence {
	case measure.EvidenceAssumed:
		return fmt.Sprintf("is taken to lie where its profile says, to ± %s mm", halfWidth(s.Over))
	case measure.EvidencePress:
		by = "by the pad press"
	}
	return fmt.Sprintf("lies, %s, %s and %s than its profile says", by,
		toward(s.Over.Value-profile.OffsetMM[1], s.Over, "further forward", "further back"),
		toward(s.Medial.Value-profile.OffsetMM[0], s.Medial, "further to the big-toe side", "further to the little-toe side"))
}

// Move returns how far and in which direction a strip moved, with half-widths of 95 %
// intervals.
func Move(m *measure.Move) string {
	return toward(m.Over.Value, m.Over, "forward", "back") + " and " + toward(m.Medial.Value, m.Medial, "to the big-toe side", "to the little-toe side")
}

// toward writes the size of a length, mm, with the half-width of the interval of e, and
// the direction: more where it is positive, less where it is negative.
func toward(mm float64, e measure.Estimate, more, less string) string {
	amount := Number(math.Abs(mm), 1)
	if mm < 0 && amount != Number(0, 1) {
		more = less
	}
	return fmt.Sprintf("%s ± %s mm %s", amount, halfWidth(e), more)
}

// halfWidth writes the half-width of an interval.
func halfWidth(e measure.Estimate) string { return Number((e.CI95[1]-e.CI95[0])/2, 1) }

// SeatWorth returns the accuracy of the seats estimated from recordings, compared with
// that of the profiles, in words; "" where none was estimated.
func SeatWorth(results []*measure.Result) string {
	found, assumed, n := 0.0, 0.0, 0.0
	for _, r := range results {
		for _, f := range device.Feet {
			if s, side := r.Seats.Of(f), r.Meta.Sides[f]; s != nil && side != nil && s.Evidence != measure.EvidenceAssumed {
				half := stats.Interval95(0, side.Strip.Mount.SeatSDMM, side.Strip.Mount.SeatDOF()).Hi
				found, assumed, n = found+math.Pow((s.Over.CI95[1]-s.Over.CI95[0])/2, 2), assumed+half*half, n+1
			}
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("Front to back a seat that was found is known to ±%s mm; the seat that its profile claims would be known to ±%s mm.",
		Number(math.Sqrt(found/n), 1), Number(math.Sqrt(assumed/n), 1))
}
