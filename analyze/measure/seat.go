package measure

// Seat is where the strip of one foot lies under its platform in the mounting of a
// recording.
type Seat struct {
	Evidence Evidence `json:"evidence"`
	// Medial and Over are the position of the strip's centre relative to the platform's
	// centroid, mm, and Rotation is the rotation of the strip from +medial towards +over,
	// degrees.
	Medial   Estimate `json:"medial_mm"`
	Over     Estimate `json:"over_mm"`
	Rotation Estimate `json:"rotation_deg"`
	Holds    int      `json:"holds"`   // number of holds used
	Presses  int      `json:"presses"` // number of maps of pad presses used
	// BeyondProfile reports that the maps contradict the offset and seat_sd_mm of the
	// strip's profile.
	BeyondProfile bool `json:"beyond_profile,omitempty"`
	// Moved reports that the holds contradict the press by more than a strip usually
	// moves.
	Moved bool `json:"moved,omitempty"`
	// PressRefused is the reason why a pad press was not used for the seat; "" where it
	// was, or where there is none.
	PressRefused SeatRefusal `json:"press_refused,omitempty"`
	// HoldsRefused is the reason why the holds were not used where they are the narrowest
	// evidence.
	HoldsRefused SeatRefusal `json:"holds_refused,omitempty"`
	// BetweenPresses is the distance that the strip moved from the first pad press to the
	// last, nil where there are not two usable ones.
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

// SeatRefusal is the reason why a kind of evidence was not used for a seat: one of the
// constants below or a seat.Reason.
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
	// Beyond reports that the strip moved further than assumed for a strip.
	Beyond bool `json:"beyond,omitempty"`
}

// BearingOutline is the line within which a platform can carry load, as corrections
// to the ruler's outline, mm.
type BearingOutline struct {
	HalfWidth   Estimate `json:"half_width_mm"` // growth of half the width
	HalfDepth   Estimate `json:"half_depth_mm"` // growth of half the depth
	FrontRadius Estimate `json:"front_radius_mm"`
	BackRadius  Estimate `json:"back_radius_mm"`
	// From lists the other recordings, by id, whose presses contributed to it.
	From []string `json:"from,omitempty"`
	// Conflict reports that the press of this recording contradicts the outline from the
	// others, which are therefore not used: it may be another shoe.
	Conflict bool `json:"conflict,omitempty"`
}
