package check

import (
	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/device"
	"fmt"
)

// SeatReport says where the strip lies by the maps of pad presses and holds, relative
// to where its profile places it.
type SeatReport struct {
	// Medial and Over are the strip's offset less that of its profile, mm, and
	// Rotation its rotation less that of the profile, degrees.
	Medial   measure.Estimate `json:"medial_mm"`
	Over     measure.Estimate `json:"over_mm"`
	Rotation measure.Estimate `json:"rotation_deg"`
	Evidence measure.Evidence `json:"evidence"` // press or holds
	Holds    int              `json:"holds"`    // from so many holds
	Presses  int              `json:"presses"`  // and so many maps of pad presses
	// BeyondProfile says that the maps contradict the seat_sd_mm of the profile.
	BeyondProfile bool `json:"beyond_profile,omitempty"`
}

// seatReport returns what the seat of a strip is relative to the strip's profile, nil
// where neither press nor holds show it.
func seatReport(strip *device.Strip, found *measure.Seat) *SeatReport {
	if found.Evidence == measure.EvidenceAssumed {
		return nil
	}
	less := func(e measure.Estimate, by float64) measure.Estimate {
		return measure.Estimate{Value: e.Value - by, U: e.U, CI95: [2]float64{e.CI95[0] - by, e.CI95[1] - by}}
	}
	mount := strip.Mount
	return &SeatReport{
		Medial: less(found.Medial, mount.OffsetMM[0]), Over: less(found.Over, mount.OffsetMM[1]), Rotation: less(found.Rotation, mount.RotationDeg),
		Evidence: found.Evidence, Holds: found.Holds, Presses: found.Presses, BeyondProfile: found.BeyondProfile,
	}
}

// pressRefused says what a pad press that does not show the seat was like, and what
// to do about it.
func pressRefused(reason measure.SeatRefusal) (text, remedy string) {
	switch seat.Reason(reason) {
	case seat.FewMaps:
		return "it bears load for less than half a second", "press for ten seconds with 50 N or more"
	case seat.EdgesUnseen:
		return "it leaves edges of the platform without load", "press again and rock to all sides; the strip must reach beyond the platform"
	case seat.Slipped:
		return "the strip moved while it was pressed", "fix the strip so that it cannot slide, and press again"
	case seat.SeatFar:
		return fmt.Sprintf("the strip would lie more than %d mm from where its profile says", seat.PressFarMM), "look whether strip, foot and shoe are the ones named, and mount the strip again"
	case seat.OtherOutline:
		return "it fits another outline than the shoe's", "look whether the shoe is the one named, and measure its platform again"
	default:
		return "no place of the strip explains it", "press again on soft foam of 5 to 10 mm, the shoe off the foot, and let nothing slip"
	}
}

// addPressRefused adds the finding that the pad press of a foot does not show the
// seat, which report gives from the holds, nil where they do not either.
func (r *Report) addPressRefused(foot device.Foot, refused measure.SeatRefusal, report *SeatReport) {
	text, means := pressRefused(refused)
	if report != nil {
		means = "the seat above comes from the holds; to have it from a press, " + means
	}
	r.add(Finding{About: foot.String(), Kind: PressUnused, Text: "the pad press does not show where the strip lies: " + text, Means: means})
}
