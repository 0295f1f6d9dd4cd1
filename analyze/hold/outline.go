package hold

import (
	"math"

	"aplomb/analyze/measure"
)

// BearingOutline is the source of uncertainty of a platform's shape: its bearing outline
// and the model of its surface. All mountings of a shoe have this error in common, so it
// does not average out over them.
const BearingOutline measure.Source = "bearing outline"

// fromOutline returns the part of the uncertainty of a found seat, and of the contact by
// its fit, that all mountings of one shoe have in common. fromSeat returns the rest.
func fromOutline(in *Instrument, _ *Typical) effectOf {
	e := measure.Effect{
		Source: BearingOutline, Type: measure.TypeB, Distribution: measure.Normal, Common: measure.OfShape,
		Basis: "the shape of the platform, which all mountings of the shoe share",
	}
	if in.seat == nil {
		e.Basis = "the ruler's outline, whose error is not known"
		return constantEffect(e)
	}
	return func(h *Hold, m *holdResult) measure.Effect {
		e := e
		u := map[measure.Measure]float64{measure.Medial: in.seat.Common[0], measure.Over: in.seat.Common[1]}
		if h.contact() != nil {
			u[measure.ContactShare] = in.outlineOfContact(h)
		}
		e.U = withUnlimitedDOF(u)
		return e
	}
}

// outlineOfContact returns the standard uncertainty of a hold's contact share due to the
// area of the bearing outline, its denominator.
func (in *Instrument) outlineOfContact(h *Hold) float64 {
	lo, hi := in.Grid.Outline.Bounds()
	o, c := &in.seat.Outline, h.contact()
	width, depth := o.HalfWidth.SD/((hi[0]-lo[0])/2), o.HalfDepth.SD/((hi[1]-lo[1])/2)
	return min(c.U, c.Share*math.Hypot(width, depth))
}
