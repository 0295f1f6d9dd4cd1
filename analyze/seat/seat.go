package seat

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// Kind is what was done while a map was taken.
type Kind int

const (
	Press Kind = iota // the platform was pressed on a soft pad
	Hold              // the dancer stood on the platform
)

// PressLeastN and PressMostN are the load with which a person is asked to press a
// platform on the pad, N. It is not enforced.
const PressLeastN, PressMostN = 60, 150

// Map is one map of pressure: a frame of a pad press or the mean of a hold.
type Map struct {
	Kind Kind
	// Press is 0 in a press before the holds and 1 in one after them, which shows how
	// far the strip moved in between.
	Press    int
	KPa      []float64 // readings in the order of the scan; NaN for one that is not to be believed, such as a saturated one
	NoiseKPa float64   // standard deviation of a reading about its mean, kPa
}

// Input is what is known of one mounting of a strip on one foot.
type Input struct {
	Strip   *device.Strip    // its Mount is the prior of the seat
	Outline platform.Polygon // the ruler's, counter-clockwise, centroid at the origin, mm
	Maps    []Map
	Lost    []bool  // cells that are not to be believed, in the order of the scan; nil where there are none
	GainSD  float64 // relative standard deviation of a cell's gain
	// MoveSDMM is the standard deviation by which the strip moves along each axis
	// between pad press and holds, mm; 0 stands for DefaultMoveSDMM. The rotation
	// moves by as many degrees. Where a second press shows the move, half of
	// DefaultMoveSDMM stands in for what the strip moved and moved back.
	MoveSDMM float64
	// Known is the bearing outline as presses of other mountings of this physical
	// shoe show it; nil where there are none. FindTogether works it out for mountings
	// that are analysed together.
	Known *Outline
}

// DefaultMoveSDMM stands in where no second press shows how far the strip moved
// while she walked on it. It is our assumption.
const DefaultMoveSDMM = 0.22

// RotationSDDeg is the standard deviation of a mounting's rotation, degrees.
const RotationSDDeg = rotationDeg

// Evidence is what a seat was found from.
type Evidence string

const (
	FromPress Evidence = "press"   // pad presses, with holds or without
	FromHolds Evidence = "holds"   // holds alone
	Assumed   Evidence = "assumed" // the strip's profile
)

// Reason is why a kind of evidence was refused.
type Reason string

const (
	FewMaps      Reason = "few-maps"      // fewer than 5 maps of a press, or a hold below 25 N
	Misfit       Reason = "misfit"        // no seat explains the maps
	EdgesUnseen  Reason = "edges-unseen"  // the press leaves edges without load, or the strip does not reach beyond the platform
	Slipped      Reason = "slipped"       // the strip moved during the press
	SeatFar      Reason = "seat-far"      // the strip would lie more than FarMM or, with a press, PressFarMM from where its profile says
	OtherOutline Reason = "other-outline" // the outline would differ from the ruler's by more than 2 mm on each side
)

// Refusal is one kind of evidence that was not used.
type Refusal struct {
	Evidence Evidence
	Reason   Reason
}

// Value is an estimate with its standard uncertainty.
type Value struct{ Value, SD float64 }

// Outline is the bearing outline of a platform against the ruler's, mm. The
// standard uncertainties contain an error of the model, which the mountings of a
// physical shoe share: it does not average out over them.
type Outline struct {
	HalfWidth, HalfDepth    Value // growth against the ruler's outline
	DomeMedial, DomeOver    Value // recess of the surface at the end of the half-axis
	FrontRadius, BackRadius Value // of the rounded edges
}

// values are those of an outline, in the order of the shared parameters from width on.
func (o *Outline) values() [6]*Value {
	return [...]*Value{&o.HalfWidth, &o.HalfDepth, &o.DomeMedial, &o.DomeOver, &o.FrontRadius, &o.BackRadius}
}

// Shift is a difference of two seats.
type Shift struct {
	Medial, Over Value // mm
	Rotation     Value // degrees
}

// Seat is where a strip lies under its platform in one mounting.
type Seat struct {
	Offset      platform.Point // of the strip's centre from the platform's centroid, mm
	RotationDeg float64
	// Cov is the covariance of medial (mm), over (mm) and rotation (degrees), the
	// model's error included; it is about the seat during the holds where there
	// are any, else during the press.
	Cov [3][3]float64
	// Common is the part of the standard deviations of medial and over, mm, that all
	// mountings of a physical shoe have in common, because it depends on the shape of
	// the shoe. It does not average out over them. Zero where Evidence is Assumed.
	Common   platform.Point
	Evidence Evidence
	Refused  []Refusal // from the narrowest kind of evidence on
	// LeftOut is why one of two presses has no part in the seat; "" where there is
	// none such.
	LeftOut Reason
	// LeftOutPress is the Map.Press of that one.
	LeftOutPress int
	// UsedHolds says that holds have a part in the seat.
	UsedHolds bool
	// PriorConflict says that the maps contradict the offset and seat_sd_mm of the
	// strip's profile: χ² with 2 degrees of freedom above its 99 % point, where the
	// profile has no part in the seat; or SeatFar, where the profile's seat is
	// returned with a standard uncertainty of at least 3 mm.
	PriorConflict bool
	// Moved says that the holds contradict the press by more than a strip moves
	// (χ² with 3 degrees of freedom above its 99.9 % point). Cov covers the difference.
	Moved bool
	// Shift is by how much the strip moved from the first press to the second; nil
	// where the presses do not show it.
	Shift *Shift
	// Chi2 and DOF are the misfit of the evidence's maps with the noise given and
	// modelError, and its degrees of freedom.
	Chi2, DOF float64
	Outline   Outline // of FromPress and FromHolds
	// OutlineFrom are the mountings of FindTogether, by their place in its input,
	// whose presses have a part in Outline. This mounting's own is not among them.
	OutlineFrom []int
	// OutlineConflict says that this mounting's press shows another outline than
	// the presses of the other mountings of FindTogether, so that they were not
	// used: it may be another physical shoe.
	OutlineConflict bool
	// Bearing is the bearing outline, [medial, over] in mm, counter-clockwise: the
	// ruler's with the growth of Outline; the ruler's itself where Evidence is Assumed.
	Bearing    platform.Polygon
	BearingMM2 float64 // area of Bearing
	CoPs       []CoP   // of each map, in the order of the input
	// Contacts are parallel to CoPs; nil where there is no fit of holds, as where
	// Evidence is Assumed. Presses and maps without load have the zero Contact.
	Contacts []Contact
}

// CoP is the centre of pressure of one map under the seat found.
type CoP struct {
	At    platform.Point // mm
	Cov   [2][2]float64  // from the seat, the gains and where load acts within a cell, mm²
	LoadN float64        // cells that are not believed filled by the fit; 0 where the map bears no load, and At is then meaningless
	// BeyondN is the load that the fit puts beyond the strip, up to rimMM from it. It
	// has its part in At and none in LoadN.
	BeyondN float64
	// UBeyondN is the standard uncertainty of BeyondN, N. It is our assumption.
	UBeyondN float64
}
