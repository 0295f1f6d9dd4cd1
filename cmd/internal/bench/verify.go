package bench

import (
	"fmt"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

// DefaultLimits returns the default acceptance limits for the load, per cent, and for the
// centre of pressure, mm.
func DefaultLimits() (loadPercent, copMM float64) {
	l := calibrate.DefaultLimits()
	return 100 * l.Load, l.CoPMM
}

// Limits returns the limits that were given, in the units of DefaultLimits.
func Limits(loadPercent, copMM float64) (calibrate.Limits, error) {
	l := calibrate.DefaultLimits()
	if !(loadPercent > 0 && copMM > 0) {
		return l, usage.Errorf("limits of %v %% and %v mm: both above 0", loadPercent, copMM)
	}
	if loadPercent != 100*l.Load || copMM != l.CoPMM {
		l.Load, l.CoPMM = loadPercent/100, copMM
		l.Basis = fmt.Sprintf("load within %g %% and centre of pressure within %g mm, as given", loadPercent, copMM)
	}
	return l, nil
}

// Verify measures known weights on known places of the strip with the calibration
// in its profile, and judges them by limits.
func (b *Bench) Verify(args []string, limits calibrate.Limits) (calibrate.Verification, error) {
	presses, err := b.presses(args)
	if err != nil {
		return calibrate.Verification{}, err
	}
	v, err := calibrate.Verify(presses, limits)
	if err != nil {
		return v, err
	}
	if c := &b.Strip.Calibration; !c.Measured() {
		v.Warnings = append(v.Warnings, fmt.Sprintf("strip %s was never calibrated: its profile says %g kPa a count", b.Strip.Name, c.KPaPerCount))
	}
	v.Warnings = append(v.Warnings, words.Warnings(measure.CalibrationWarnings(b.Strip.CalibrationDoubts(b.Taken)))...)
	return v, nil
}

// presses measures the press of every step.
func (b *Bench) presses(args []string) ([]calibrate.Press, error) {
	steps, err := b.steps(args)
	if err != nil {
		return nil, err
	}
	all := make([]calibrate.Press, len(steps))
	for i, s := range steps {
		if all[i].LoadN, all[i].At, err = ParseWeightAt(s.What); err != nil {
			return nil, err
		}
	}
	zero, err := b.zero(takeOff)
	if err != nil {
		return nil, err
	}
	for i, s := range steps {
		at := all[i].At
		r, err := b.loaded(s, fmt.Sprintf("Press %d of %d: %.1f N in all on a pad with its middle at [%g, %g] mm. "+whenSettled,
			i+1, len(steps), all[i].LoadN, at[0], at[1]), loadFor)
		if err != nil {
			return nil, err
		}
		mean, n, err := calibrate.Settled(r.TimeS, r.Frames, zero, b.Strip.SaturatesAt)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.name(i), err)
		}
		all[i].MeasuredN, all[i].MeasuredAt = calibrate.LoadAndCoP(b.Strip, mean, n)
	}
	return all, nil
}
