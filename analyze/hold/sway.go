package hold

import (
	"math"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

const (
	// Swaying is the source of uncertainty that the dancer moves during a hold, so that
	// its means would differ if the hold were repeated.
	Swaying measure.Source = "sway"
	// Blur is the source of uncertainty that the edge of contact moves during a hold.
	Blur measure.Source = "blur"
)

// fromSway returns the standard error of a hold's means without the noise of the cells,
// and the difference between its first and last third that sway alone causes.
func fromSway(_ *Instrument, t *Typical) effectOf {
	return func(h *Hold, m *holdResult) measure.Effect {
		u := map[measure.Measure]measure.StandardUncertainty{}
		for _, one := range measure.Budgeted {
			u[one] = withoutNoise(m.errors.of(one, t.contactPerMM(h)), budget.OfDraws(t.noiseDraws[one]).U, m.errors.dof)
		}
		for one, c := range m.changes {
			u[one] = measure.StandardUncertainty{U: c.U, DOF: measure.DOF(c.DOF)}
		}
		return measure.Effect{
			Source: Swaying, Type: measure.TypeA, Distribution: measure.Normal, Common: measure.OfReleve,
			Basis: "the means of ten parts of the hold scatter, less the noise",
			U:     u,
		}
	}
}

// withoutNoise removes the noise, which is a source of its own, from the standard error
// of a mean. Without noise the degrees of freedom are those of the standard error; with
// noise there are fewer, since the remaining variance is as uncertain as the whole
// (½·(u/Δu)²: JCGM 100:2008, G.4.2 and E.4.3).
func withoutNoise(standardError, noise, dof float64) measure.StandardUncertainty {
	if !(standardError > noise) { // or unknown (NaN), where there are only a few frames
		return measure.StandardUncertainty{DOF: measure.DOF(dof)}
	}
	u := math.Sqrt(standardError*standardError - noise*noise)
	left := u / standardError
	return measure.StandardUncertainty{U: u, DOF: measure.DOF(dof * left * left * left * left)}
}

// blurOfFit is the standard uncertainty of the contact share that the fit of the seat
// gives a mean map, as a part of its change with one standard deviation of sway. The fit
// computes contact from the load and its centre in the mean map, which sway does not
// change, rather than from the edge, which sway blurs. TestMonteCarlo shows the remaining
// error.
const blurOfFit = 0.15

// fromBlur returns the error of contact share in a mean map while the edge of contact
// moves. The edge in the mean map lies within the range that the true edge covers:
// without a fit of the seat the bound is the change of contact share with one standard
// deviation of the sway.
func fromBlur(_ *Instrument, t *Typical) effectOf {
	return func(h *Hold, m *holdResult) measure.Effect {
		e := measure.Effect{
			Source: Blur, Type: measure.TypeB, Distribution: measure.Rectangular, Common: measure.OfStrip,
			Basis: "contact is that of the mean map, whose edge lies within what one standard deviation of sway sweeps",
		}
		perMM := t.contactPerMM(h)
		sweeps := math.Hypot(perMM[0]*m.swayMM[0], perMM[1]*m.swayMM[1])
		if h.contact() == nil {
			e.Bound = map[measure.Measure]float64{measure.ContactShare: sweeps}
			return e
		}
		e.Distribution, e.Common = measure.Normal, measure.OfShape
		e.Basis = "what sway leaves in the contact of a fit to the mean map, as found on simulated holds"
		e.U = withUnlimitedDOF(map[measure.Measure]float64{measure.ContactShare: blurOfFit * sweeps})
		return e
	}
}

// contactPerMM returns the derivative of contact share with respect to the centre of
// pressure along medial and over, 1/mm, as the platform tilts: that of the fit of the
// seat, or else that of the typical hold.
func (t *Typical) contactPerMM(h *Hold) platform.Point {
	if c := h.contact(); c != nil {
		return c.PerMM
	}
	return t.tilt
}
