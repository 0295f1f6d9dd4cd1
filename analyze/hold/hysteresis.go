package hold

import "aplomb/analyze/measure"

// Hysteresis is the source of uncertainty that cells read another value while the
// load falls than while it rises.
const Hysteresis measure.Source = "hysteresis"

// fromHysteresis bounds the error of the load by the largest hysteresis that the
// calibration found, either way. Cells come under load together, so no other
// measure is affected.
func fromHysteresis(in *Instrument, _ *Typical) effectOf {
	return func(_ *Hold, m *holdResult) measure.Effect {
		return loadEffect(Hysteresis, "the largest found in its calibration, in either direction", in.Strip.Calibration.Hysteresis*m.LoadN)
	}
}
