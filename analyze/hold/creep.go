package hold

import (
	"fmt"
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/device"
)

// Creep is the continuing growth of a cell's reading under constant load. t seconds after
// the load came on the reading is 1 + c·log₁₀ t times that after one second, where c is
// the creep per decade, which package calibrate determines. Logarithmic growth is our
// assumption; analyze/VALIDATION.md lists it as unchecked. A calibration's curve was
// measured with loads of one age t₀, so the reading of a hold is too large by the factor
//
//	(1 + c·log₁₀ t) ÷ (1 + c·log₁₀ t₀)
//
// removeCreep divides the mean map of a hold by that factor where the profile gives c and
// t₀. The centre of pressure does not change, since all cells creep alike; neither does
// the share of two feet, which come under load together. Samples and the live view are
// not corrected for creep.

// Creep is the source of uncertainty of the creep that remains in the load.
const Creep measure.Source = "creep"

// largestCreep is the largest creep that is removed by that law, in magnitude: both the
// creep per decade and the creep over all decades up to the age of the curve. Larger
// creep is only bounded. It is our own choice.
const largestCreep = 0.2

// removesCreep reports whether the creep of a strip is known well enough to be removed.
func removesCreep(c *device.Calibration) bool {
	return c.CreepPerDecade != 0 && c.CurveAgeS != 0 &&
		math.Abs(c.CreepPerDecade)*max(1, math.Abs(math.Log10(c.CurveAgeS))) <= largestCreep
}

// creepFactor returns the factor by which the readings of a hold are too large
// where the creep is perDecade; 1 where creep is not removed.
func creepFactor(perDecade float64, p releve.Pulse, c *device.Calibration) float64 {
	if !removesCreep(c) {
		return 1
	}
	return (1 + perDecade*meanLogAge(p)) / (1 + perDecade*math.Log10(c.CurveAgeS))
}

// meanLogAge returns the mean log₁₀ of the age of the load over a hold, s. The load
// is taken to come on evenly between onset and hold, each part of it ageing by
// itself (Boltzmann's superposition). With u the age of the first part, a part that
// came on s later has the age u − s, and the mean over both is that of second
// integrals of log, which are u²·(ln u − 3/2)/2.
func meanLogAge(p releve.Pulse) float64 {
	rise, held := p.HoldStartS-p.OnsetS, p.HoldEndS-p.HoldStartS
	if held <= 0 {
		return 0
	}
	rise = max(rise, 1e-3) // a rise of no length is the limit of a short one
	second := func(u float64) float64 {
		if u <= 0 {
			return 0
		}
		return u * u * (math.Log(u) - 1.5) / 2
	}
	return (second(rise+held) - second(rise) - second(held)) / (rise * held) / math.Ln10
}

// removeCreep divides the readings of a hold's map by the creep factor, and sets
// creepBound, the half-width of a rectangular distribution of the creep left in the
// load. Where the standard uncertainty of the creep is known, the bound is the
// change that √3 times it makes; otherwise it is all that was removed. Where creep
// is not removed, the bound is a decade of creep.
func removeCreep(in *Instrument, h *Hold) {
	c := &in.Strip.Calibration
	if !removesCreep(c) {
		h.creepBound = c.CreepPerDecade
		return
	}
	load := func(kPa []float64) float64 { n, _ := in.perFrame(kPa); return n }
	before := h.pressure
	h.pressure = in.divided(before, creepFactor(c.CreepPerDecade, h.Pulse, c))
	other := before
	if c.UCreep > 0 {
		other = in.divided(before, creepFactor(c.CreepPerDecade+math.Sqrt(3)*c.UCreep, h.Pulse, c))
	}
	h.creepBound = math.Abs(load(other)/load(h.pressure) - 1)
	h.peakFrame = in.Curve.KPa(0, in.Curve.Counts(0, h.peakFrame)/creepFactor(c.CreepPerDecade, h.Pulse, c))
}

// divided returns a map, kPa, after dividing its counts by a factor.
func (in *Instrument) divided(kPa []float64, by float64) []float64 {
	if by == 1 {
		return kPa
	}
	out := make([]float64, len(kPa))
	for k, v := range kPa {
		out[k] = in.Curve.KPa(k, in.Curve.Counts(k, v)/by)
	}
	return out
}

// fromCreep bounds the error of the load by the creep left in it. All cells creep
// alike, so the centre of pressure is not affected.
func fromCreep(in *Instrument, _ *Typical) effectOf {
	c := &in.Strip.Calibration
	basis := "the whole correction"
	switch {
	case !removesCreep(c):
		basis = "one decade of time more or less under load than when it was calibrated"
	case c.UCreep > 0:
		basis = fmt.Sprintf("taken out, to the %.2g %% a decade of its calibration", 100*c.UCreep)
	}
	return func(h *Hold, m *holdResult) measure.Effect { return loadEffect(Creep, basis, h.creepBound*m.LoadN) }
}

// loadEffect returns the effect of a source that bounds the load and affects no
// other measure.
func loadEffect(source measure.Source, basis string, bound float64) measure.Effect {
	if bound == 0 {
		basis = "not known: its calibration does not say"
	}
	return measure.Effect{
		Source: source, Type: measure.TypeB, Distribution: measure.Rectangular, Common: measure.OfStrip, Basis: basis,
		Bound: map[measure.Measure]float64{measure.Load: bound},
	}
}
