package seat

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// Kind reports whether a map was taken during a pad press or a hold.
type Kind int

const (
	Press Kind = iota // the platform was pressed on a soft pad
	Hold              // the dancer stood on the platform
)

// PressLeastN and PressMostN are the range of load that the instructions for a pad press
// ask for, N. It is not enforced.
const PressLeastN, PressMostN = 60, 150

// Map is one map of pressure: a frame of a pad press or the mean of a hold.
type Map struct {
	Kind Kind
	// Press is 0 for a press before the holds and 1 for one after them, which measures
	// how far the strip moved in between.
	Press    int
	KPa      []float64 // readings in the order of the scan; NaN for one that is not valid, such as a saturated one
	NoiseKPa float64   // standard deviation of a reading about its mean, kPa
}

// Input is what is known of one mounting of a strip on one foot.
type Input struct {
	Strip   *device.Strip    // its Mount is the prior of the seat
	Outline platform.Polygon // the ruler's, counter-clockwise, centroid at the origin, mm
	Maps    []Map
	Lost    []bool  // cells whose readings are not valid, in the order of the scan; nil where there are none
	GainSD  float64 // relative standard deviation of a cell's gain
	// MoveSDMM is the standard deviation of the strip's movement along each axis between
	// pad press and holds, mm, and of its rotation, degrees; 0 stands for
	// DefaultMoveSDMM. Where a second press measures the movement, half of
	// DefaultMoveSDMM allows for movement that was undone.
	MoveSDMM float64
	// Known is the bearing outline estimated from presses of other mountings of this
	// physical shoe; nil where there are none. FindTogether computes it for mountings
	// that are analysed together.
	Known *Outline
}

// DefaultMoveSDMM is the standard deviation of the strip's movement while the dancer
// walks on it, mm, where no second press measures it. It is our assumption.
const DefaultMoveSDMM = 0.22

// RotationSDDeg is the standard deviation of a mounting's rotation, degrees.
const RotationSDDeg = rotationDeg

// Evidence is what a seat was estimated from.
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

// Refusal is a kind of evidence that was not used, and why.
type Refusal struct {
	Evidence Evidence
	Reason   Reason
}

// Value is an estimate with its standard uncertainty.
type Value struct{ Value, SD float64 }

// Outline is the bearing outline of a platform relative to the ruler's, mm. The standard
// uncertainties include the model's error, which all mountings of a physical shoe have in
// common: it does not average out over them.
type Outline struct {
	HalfWidth, HalfDepth    Value // growth against the ruler's outline
	DomeMedial, DomeOver    Value // recess of the surface at the end of the half-axis
	FrontRadius, BackRadius Value // of the rounded edges
}

// values returns the values of an outline in the order of the shared parameters from
// width on.
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
	// Cov is the covariance of medial (mm), over (mm) and rotation (degrees), including
	// the model's error. It is that of the seat during the holds or, where there are
	// none, during the press.
	Cov [3][3]float64
	// Common is the part of the standard deviations of medial and over, mm, that all
	// mountings of a physical shoe have in common, because it depends on the shape of the
	// shoe. It does not average out over them. It is zero where Evidence is Assumed.
	Common   platform.Point
	Evidence Evidence
	Refused  []Refusal // the narrowest kind of evidence first
	// LeftOut is why one of two presses was not used; "" where both were, or where there
	// are not two.
	LeftOut Reason
	// LeftOutPress is the Map.Press of the press that was not used.
	LeftOutPress int
	// UsedHolds reports whether holds contributed to the seat.
	UsedHolds bool
	// PriorConflict reports that the maps contradict offset and seat_sd_mm of the strip's
	// profile: either χ² with 2 degrees of freedom is above its 99 % point, and the
	// profile was not used; or the reason is SeatFar, and the profile's seat is returned
	// with a standard uncertainty of at least 3 mm.
	PriorConflict bool
	// Moved reports that the holds contradict the press by more than a strip usually
	// moves (χ² with 3 degrees of freedom above its 99.9 % point). Cov covers the
	// difference.
	Moved bool
	// Shift is how far the strip moved from the first press to the second; nil where
	// there are not two usable presses.
	Shift *Shift
	// Chi2 is the misfit of the evidence's maps, with the given noise and modelError, and
	// DOF its degrees of freedom.
	Chi2, DOF float64
	Outline   Outline // of FromPress and FromHolds
	// OutlineFrom lists the other mountings of FindTogether, by index in its input, whose
	// presses contributed to Outline.
	OutlineFrom []int
	// OutlineConflict reports that this mounting's press contradicts the outline of the
	// other mountings of FindTogether, which were therefore not used: it may be another
	// physical shoe.
	OutlineConflict bool
	// Bearing is the bearing outline, [medial, over] in mm, counter-clockwise: the
	// ruler's with the growth of Outline, or the ruler's itself where Evidence is
	// Assumed.
	Bearing    platform.Polygon
	BearingMM2 float64 // area of Bearing
	CoPs       []CoP   // of each map, in the order of the input
	// Contacts are parallel to CoPs; nil where there is no fit of holds, for example
	// where Evidence is Assumed. Presses and maps without load have the zero Contact.
	Contacts []Contact
}

// CoP is the centre of pressure of one map under the seat found.
type CoP struct {
	At    platform.Point // mm
	Cov   [2][2]float64  // from the seat, the gains and the position of the load within a cell, mm²
	LoadN float64        // with invalid cells filled in by the fit; 0 where the map bears no load, and At is then meaningless
	// BeyondN is the load that the fit computes beyond the strip, up to rimMM from it, N.
	// At includes it, LoadN does not.
	BeyondN float64
	// UBeyondN is the standard uncertainty of BeyondN, N. It is our assumption.
	UBeyondN float64
}
