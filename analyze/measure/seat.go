package measure

// Seat is where the strip of one foot lies under its platform in the mounting of a
// recording.
type Seat struct {
	Evidence Evidence `json:"evidence"`
	// Medial and Over are the place of the strip's centre from the platform's
	// centroid, mm, and Rotation the turn of the strip from +medial towards +over,
	// degrees.
	Medial   Estimate `json:"medial_mm"`
	Over     Estimate `json:"over_mm"`
	Rotation Estimate `json:"rotation_deg"`
	Holds    int      `json:"holds"`   // from so many holds
	Presses  int      `json:"presses"` // and so many maps of pad presses
	// BeyondProfile says that the maps contradict the offset and seat_sd_mm of the
	// strip's profile.
	BeyondProfile bool `json:"beyond_profile,omitempty"`
	// Moved says that the holds contradict the press by more than a strip moves.
	Moved bool `json:"moved,omitempty"`
	// PressRefused says why a pad press does not show the seat; "" where it does, or
	// where there is none.
	PressRefused SeatRefusal `json:"press_refused,omitempty"`
	// HoldsRefused says why the holds do not show the seat where they are the
	// narrowest evidence.
	HoldsRefused SeatRefusal `json:"holds_refused,omitempty"`
	// BetweenPresses is how far the strip moved from the first pad press to the last,
	// nil where there are not two that show it.
	BetweenPresses *Move `json:"between_presses,omitempty"`
	// Outline is the bearing outline, nil where the seat is assumed.
	Outline *BearingOutline `json:"bearing_outline,omitempty"`
}

// Evidence is what a seat was found from.
type Evidence string

const (
	EvidencePress   Evidence = "press"   // pad presses, with holds or without
	EvidenceHolds   Evidence = "holds"   // holds alone
	EvidenceAssumed Evidence = "assumed" // the strip's profile
)

// SeatRefusal is why a kind of evidence does not show a seat: one of the constants
// below or a seat.Reason.
type SeatRefusal string

const (
	PressByFoot    SeatRefusal = "by-foot"    // a foot stood on the platform
	PressOtherFoot SeatRefusal = "other-foot" // the other platform was pressed
)

// Estimate is a value with its standard uncertainty and 95 % interval.
type Estimate struct {
	Value float64    `json:"value"`
	U     float64    `json:"u"`
	CI95  [2]float64 `json:"ci95"`
}

// Move is the change of the place of a strip, mm.
type Move struct {
	Medial Estimate `json:"medial_mm"`
	Over   Estimate `json:"over_mm"`
	// Beyond says that the strip moved further than a strip is assumed to.
	Beyond bool `json:"beyond,omitempty"`
}

// BearingOutline is the line within which a platform can carry load, as corrections
// to the ruler's outline, mm.
type BearingOutline struct {
	HalfWidth   Estimate `json:"half_width_mm"` // growth of half the width
	HalfDepth   Estimate `json:"half_depth_mm"` // growth of half the depth
	FrontRadius Estimate `json:"front_radius_mm"`
	BackRadius  Estimate `json:"back_radius_mm"`
	// From lists the other recordings, by id, whose presses show it too.
	From []string `json:"from,omitempty"`
	// Conflict says that the press of this recording shows another outline than those of
	// the others, which are therefore not used: it may be another shoe.
	Conflict bool `json:"conflict,omitempty"`
}
