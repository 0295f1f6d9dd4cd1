package hold

import (
	"fmt"
	"maps"

	"aplomb/analyze/measure"
)

// fromGains returns the uncertainty from Monte Carlo draws of the cells' gains, which
// have the normal distribution that the calibration found or that is assumed, on the
// typical hold.
func fromGains(in *Instrument, t *Typical) effectOf {
	c := &in.Strip.Calibration
	sd := make([]float64, len(t.pressure))
	for k, p := range t.pressure {
		sd[k] = c.GainSD * p
	}
	e := measure.Effect{
		Source: measure.Gain, Type: measure.TypeB, Distribution: measure.Normal, Common: measure.OfStrip,
		Basis: fmt.Sprintf("gains of the cells differ by %.3g %%: our assumption", 100*c.GainSD),
		Draws: in.draws(gainStream, sd, t),
	}
	if c.Measured() {
		e.Basis = fmt.Sprintf("gains of the cells differ by %.3g %%, as its calibration found", 100*c.GainSD)
	}
	return func(h *Hold, _ *holdResult) measure.Effect {
		e := e
		if h.contact() != nil { // the fit of the seat estimates the gains, and its interval covers them
			e.Draws = maps.Clone(e.Draws)
			delete(e.Draws, measure.ContactShare)
		}
		return e
	}
}
