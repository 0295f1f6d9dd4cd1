package measure

import "math"

// Source names a source of uncertainty.
type Source string

// Gain is the source of uncertainty that the gains of the cells differ. Package
// compare reads it: what better gains would bring is one of its remedies.
const Gain Source = "gain"

// Budget lists what makes one measure of one hold, or the mean of one measure, uncertain,
// source by source (JCGM 100:2008, Guide to the expression of uncertainty in measurement).
type Budget struct {
	Sources  []Contribution `json:"sources"`
	U        float64        `json:"u"`            // combined standard uncertainty, in the unit of the measure
	DOF      DOF            `json:"dof,omitzero"` // effective degrees of freedom (Welch-Satterthwaite)
	Expanded float64        `json:"expanded95"`   // half-width of the 95 % interval
}

// Contribution is what one source contributes to a budget. Sources are taken to
// be independent of each other.
type Contribution struct {
	Source       Source       `json:"source"`
	Type         Type         `json:"type"`
	Distribution Distribution `json:"distribution"`
	U            float64      `json:"u"`                  // standard uncertainty, in the unit of the measure
	DOF          DOF          `json:"dof,omitzero"`       // degrees of freedom of U
	Share        float64      `json:"share"`              // of the combined variance, 0..1
	Basis        string       `json:"basis"`              // what U rests on, for people
	Evidence     Evidence     `json:"evidence,omitempty"` // of the seat: what it was found from
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

// Unlimited is the number of degrees of freedom of what is known exactly.
var Unlimited = DOF(math.Inf(1))

// IsZero tells encoding/json to leave out unlimited degrees of freedom, which
// JSON cannot write.
func (d DOF) IsZero() bool { return math.IsInf(float64(d), 0) }

// Common says which measurements have the error of a source in common, and so which
// repetitions average it out.
type Common string

const (
	// OfReleve errors differ from one relevé to the next, so that the scatter of
	// relevés already shows them.
	OfReleve Common = "relevé"
	// OfMounting errors are the same for all relevés of one mounting.
	OfMounting Common = "mounting"
	// OfStrip errors are the same wherever a strip measures alike, so that part
	// of them cancels between two shoes on one strip.
	OfStrip Common = "strip"
	// OfShape errors depend on the shape of the pressure map. They neither
	// average out over relevés nor cancel between shoes.
	OfShape Common = "shape"
)

// Effect is what one source of uncertainty does to the measures of a hold. U,
// Bound and Draws say how much, each for the measures in it; a measure that is
// in none of them is not affected.
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
