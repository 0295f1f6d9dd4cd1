package measure

import "math"

// Source names a source of uncertainty.
type Source string

// Gain is the source of uncertainty that the gains of the cells differ. Package compare
// uses it: better gains are one of its remedies.
const Gain Source = "gain"

// Budget lists the contributions to the uncertainty of one measure of one hold, or of the
// mean of one measure, source by source (JCGM 100:2008, Guide to the expression of
// uncertainty in measurement).
type Budget struct {
	Sources  []Contribution `json:"sources"`
	U        float64        `json:"u"`            // combined standard uncertainty, in the unit of the measure
	DOF      DOF            `json:"dof,omitzero"` // effective degrees of freedom (Welch-Satterthwaite)
	Expanded float64        `json:"expanded95"`   // half-width of the 95 % interval
}

// Contribution is the contribution of one source to a budget. Sources are assumed to be
// independent of each other.
type Contribution struct {
	Source       Source       `json:"source"`
	Type         Type         `json:"type"`
	Distribution Distribution `json:"distribution"`
	U            float64      `json:"u"`                  // standard uncertainty, in the unit of the measure
	DOF          DOF          `json:"dof,omitzero"`       // degrees of freedom of U
	Share        float64      `json:"share"`              // of the combined variance, 0..1
	Basis        string       `json:"basis"`              // what U is based on, for people
	Evidence     Evidence     `json:"evidence,omitempty"` // for the seat: what it was found from
}

// Type says how a standard uncertainty was evaluated (JCGM 100:2008, 4.2 and 4.3).
type Type string

const (
	TypeA Type = "A" // from the scatter of repeated observations
	TypeB Type = "B" // from anything else: a specification, an assumption, a bound
)

// Distribution is the distribution that an effect is assumed to have.
type Distribution string

const (
	Normal      Distribution = "normal"
	Rectangular Distribution = "rectangular"
)

// DOF is a number of degrees of freedom. JSON leaves out an infinite one.
type DOF float64

// Unlimited is the number of degrees of freedom of a quantity that is known exactly.
var Unlimited = DOF(math.Inf(1))

// IsZero makes encoding/json leave out unlimited degrees of freedom, which JSON cannot
// represent.
func (d DOF) IsZero() bool { return math.IsInf(float64(d), 0) }

// Common states which measurements have the error of a source in common, and therefore
// which repetitions average it out.
type Common string

const (
	// OfReleve errors differ from one relevé to the next, so that they are already part
	// of the scatter of relevés.
	OfReleve Common = "relevé"
	// OfMounting errors are the same for all relevés of one mounting.
	OfMounting Common = "mounting"
	// OfStrip errors are the same wherever a strip measures similar loads, so that part
	// of them cancels between two shoes on one strip.
	OfStrip Common = "strip"
	// OfShape errors depend on the shape of the pressure map. They neither
	// average out over relevés nor cancel between shoes.
	OfShape Common = "shape"
)

// Effect is the effect of one source of uncertainty on the measures of a hold. U, Bound
// and Draws give its size for the measures in them; a measure that is in none of them is
// not affected.
type Effect struct {
	Source       Source
	Type         Type
	Distribution Distribution
	Common       Common
	Basis        string
	Evidence     Evidence // of the seat

	U     map[Measure]StandardUncertainty
	Sides map[Measure][2]float64 // standard deviations below and above the value, where the distribution of U is not symmetric
	Bound map[Measure]float64    // half-width of a rectangular distribution, with the sign of the change
	Draws map[Measure][]float64  // changes in Monte Carlo draws, the same draws for every recording of a strip
}

// StandardUncertainty is a standard uncertainty with its degrees of freedom.
type StandardUncertainty struct {
	U   float64
	DOF DOF
}
