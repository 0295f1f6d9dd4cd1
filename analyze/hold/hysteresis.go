package hold

import "aplomb/analyze/measure"

// Hysteresis is the uncertainty because cells read another value while the load
// goes down than while it comes up.
const Hysteresis measure.Source = "hysteresis"

// fromHysteresis bounds the load by the largest hysteresis either way that the
// calibration found. Cells come under load together, so it moves nothing else.
func fromHysteresis(in *Instrument, _ *Typical) effectOf {
	return func(_ *Hold, m *holdResult) measure.Effect {
		return loadEffect(Hysteresis, "the largest either way that its calibration found", in.Strip.Calibration.Hysteresis*m.LoadN)
	}
}
