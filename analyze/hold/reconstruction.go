package hold

import (
	"fmt"
	"math"

	"aplomb/analyze/measure"
)

// Reconstruction is the source of uncertainty that the pressure within the cells is
// reconstructed with an error.
const Reconstruction measure.Source = "grid"

// fromReconstruction returns the error of the reconstruction in the centre of
// pressure and in contact share, as found on simulated maps of the same family of
// model (field.Reconstruction.ModelError). The errors of thirds and of peak
// pressure were not measured, so they have none here.
func fromReconstruction(in *Instrument, _ *Typical) effectOf {
	return func(h *Hold, m *holdResult) measure.Effect {
		cop, share := m.full.ModelError()
		at := in.measuresOf(m.full)
		u := map[measure.Measure]float64{}
		if h.contact() == nil {
			u[measure.ContactShare] = share // otherwise contact is that of the seat's fit
		}
		for axis := range 2 {
			moved := m.full.CoP
			moved[axis] += cop
			other := &measure.Hold{}
			in.locate(other, m.full, moved, m.full.LoadN)
			for _, one := range []measure.Measure{measure.Over, measure.Medial, measure.OverNorm, measure.MedialNorm, measure.KernRatio, measure.EdgeDistance} {
				u[one] = math.Hypot(u[one], change(one, other, at))
			}
		}
		return measure.Effect{
			Source: Reconstruction, Type: measure.TypeB, Distribution: measure.Normal, Common: measure.OfShape,
			Basis: fmt.Sprintf("the error of reconstructing a simulated map explained as %s", m.full.Family),
			U:     withUnlimitedDOF(u),
		}
	}
}
