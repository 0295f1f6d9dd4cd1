package hold

import (
	"math"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
)

const (
	// Swaying is the source of uncertainty that the dancer moves during a hold, so
	// that its means would differ if the hold were repeated.
	Swaying measure.Source = "sway"
	// Blur is the source of uncertainty that the edge of contact moves during a
	// hold.
	Blur measure.Source = "blur"
)

// fromSway returns the standard error of a hold's means, less the noise of the
// cells, and how far sway alone lets its first third and its last differ.
func fromSway(_ *Instrument, t *Typical) effectOf {
	return func(_ *Hold, m *holdResult) measure.Effect {
		u := map[measure.Measure]measure.StandardUncertainty{}
		for _, one := range measure.Budgeted {
			u[one] = withoutNoise(m.errors.of(one, t.tilt), budget.OfDraws(t.noiseDraws[one]).U, m.errors.dof)
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

// withoutNoise removes the noise, which is known separately, from the standard
// error of a mean. The degrees of freedom are those of the standard error where
// there is no noise, and fewer the more of it is noise, since the variance that is
// left is as uncertain as the whole (½·(u/Δu)²: JCGM 100:2008, G.4.2 and E.4.3).
func withoutNoise(standardError, noise, dof float64) measure.StandardUncertainty {
	if !(standardError > noise) { // or not known, as from a handful of frames
		return measure.StandardUncertainty{DOF: measure.DOF(dof)}
	}
	u := math.Sqrt(standardError*standardError - noise*noise)
	left := u / standardError
	return measure.StandardUncertainty{U: u, DOF: measure.DOF(dof * left * left * left * left)}
}

// fromBlur bounds the error of contact share in a mean map while the edge of
// contact moves. The edge of the mean map lies somewhere in the stretch that the
// true edge sweeps; the bound is the change of contact share with one standard
// deviation of the sway.
func fromBlur(_ *Instrument, t *Typical) effectOf {
	return func(_ *Hold, m *holdResult) measure.Effect {
		return measure.Effect{
			Source: Blur, Type: measure.TypeB, Distribution: measure.Rectangular, Common: measure.OfStrip,
			Basis: "contact is that of the mean map, whose edge lies within what one standard deviation of sway sweeps",
			Bound: map[measure.Measure]float64{measure.ContactShare: math.Hypot(t.tilt[0]*m.swayMM[0], t.tilt[1]*m.swayMM[1])},
		}
	}
}
