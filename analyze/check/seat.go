package check

import (
	"fmt"
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/device"
)

// SeatReport is the seat of the strip estimated from the maps of pad presses and holds,
// relative to that of its profile.
type SeatReport struct {
	// Medial and Over are the strip's offset less that of its profile, mm, and
	// Rotation its rotation less that of the profile, degrees.
	Medial   measure.Estimate `json:"medial_mm"`
	Over     measure.Estimate `json:"over_mm"`
	Rotation measure.Estimate `json:"rotation_deg"`
	Evidence measure.Evidence `json:"evidence"` // press or holds
	Holds    int              `json:"holds"`    // number of holds used
	Presses  int              `json:"presses"`  // number of maps of pad presses used
	// BeyondProfile reports that the maps contradict the seat_sd_mm of the profile.
	BeyondProfile bool `json:"beyond_profile,omitempty"`
	// BetweenPresses is the distance that the strip moved from the first pad press to the
	// last; absent where there are not two usable ones.
	BetweenPresses *measure.Move `json:"between_presses,omitempty"`
}

// seatReport returns the seat of a strip relative to the strip's profile, nil where
// neither press nor holds determine it.
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
		BetweenPresses: found.BetweenPresses,
	}
}

// checkPresses adds findings about the pad presses of a foot. report is what the check says
// about the seat found, nil where neither press nor holds determine it.
func (r *Report) checkPresses(foot device.Foot, presses []measure.Press, found *measure.Seat, report *SeatReport) {
	name, rest := foot.String(), 0
	for _, p := range presses {
		at := fmt.Sprintf("from %.1f to %.1f s", p.StartS, p.EndS)
		if p.Found {
			r.add(Finding{About: name, Kind: PressFound, Text: "a pad press " + at + " that nobody marked",
				Means: "it is used as a press and does not count as a relevé; if it was not a press, record again"})
		}
		if p.Refused == "" {
			rest++
			continue
		}
		r.addPressRefused(foot, "the pad press "+at, p.Refused, report)
	}
	if found.PressRefused != "" && rest > 0 {
		r.addPressRefused(foot, "the pad press", found.PressRefused, report)
	}
	if len(presses) == 0 {
		r.addHoldsRefused(foot, found.HoldsRefused)
	}
	if move := found.BetweenPresses; move != nil && move.Beyond {
		r.add(Finding{About: name, Kind: StripMoved, Text: fmt.Sprintf("the strip moved %.1f mm between the pad presses", math.Hypot(move.Medial.Value, move.Over.Value)),
			Means: "where it lay in the relevés is as uncertain as that; fix the strip so that it cannot move, see aplomb guide fixing, and measure again"})
	}
}

// PressRefused describes a pad press of a foot that was not used for the seat, and what
// to do about it.
func PressRefused(foot device.Foot, reason measure.SeatRefusal) (text, remedy string) {
	switch reason {
	case measure.PressByFoot:
		return "a foot stood on the platform", fmt.Sprintf("take the shoe off and press the platform by hand, with %d to %d N", seat.PressLeastN, seat.PressMostN)
	case measure.PressOtherFoot:
		return fmt.Sprintf("the %s platform was pressed instead", foot.Other()), fmt.Sprintf("mark the press as one of the %s foot, or look whether the strips are under each other's shoe", foot.Other())
	}
	switch seat.Reason(reason) {
	case seat.FewMaps:
		return "it bears load for less than half a second", fmt.Sprintf("press for ten seconds with %d N or more", seat.PressLeastN)
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

// addHoldsRefused adds the finding that the maps of the relevés contradict the
// descriptions of strip and shoe; none where they are merely too few.
func (r *Report) addHoldsRefused(foot device.Foot, reason measure.SeatRefusal) {
	why := ""
	switch seat.Reason(reason) {
	case seat.SeatFar:
		why = fmt.Sprintf("the strip would lie more than %d mm from where its profile says", seat.FarMM)
	case seat.OtherOutline:
		why = "they fit another outline than the shoe's"
	case seat.Misfit:
		why = "no place of the strip explains them"
	default:
		return
	}
	r.add(Finding{About: foot.String(), Kind: SeatUnfound, Text: "the relevés do not show where the strip lies: " + why,
		Means: "its place is assumed from its profile; look whether strip, foot and shoe are the ones named, and press the platform on a pad"})
}

// addPressRefused adds the finding that a pad press was not used for the seat.
func (r *Report) addPressRefused(foot device.Foot, press string, refused measure.SeatRefusal, report *SeatReport) {
	text, means := PressRefused(foot, refused)
	switch {
	case report == nil:
	case report.Evidence == measure.EvidencePress:
		means = "the seat above comes from another press; " + means
	default:
		means = "the seat above comes from the holds; to have it from a press, " + means
	}
	r.add(Finding{About: foot.String(), Kind: PressUnused, Text: press + " does not show where the strip lies: " + text, Means: means})
}
