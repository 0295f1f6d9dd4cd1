package analyze

import (
	"math"

	"aplomb/analyze/releve"
	"aplomb/device"
)

// Cells under a constant load go on answering: t seconds after it came on they
// read 1 + c·log₁₀ t times what they did after one, c being the creep a decade
// (logarithmic growth is the usual form for resistive films and elastomers,
// from memory; package calibrate finds c by it). A calibration's curve was found
// over loads of its own age t₀, so that a hold reads
//
//	(1 + c·log₁₀ t) ÷ (1 + c·log₁₀ t₀)
//
// times what it should. That is taken out of the mean map of a hold and of its
// load where the profile says c and t₀. Where the centre of pressure is does not
// change, since all cells creep alike, nor does the share of two feet, which
// come under load together. Samples and the live view keep their creep.

// mostCreep is how much a decade, or all decades up to the age of the curve, may
// add for creep to be taken out by that law, either way; strips that creep by more
// are only bounded. Our own choice.
const mostCreep = 0.2

// takenOut says that the creep of a strip is known well enough to be taken out.
func takenOut(k *device.Calibration) bool {
	return k.CreepPerDecade != 0 && k.CurveAgeS != 0 &&
		math.Abs(k.CreepPerDecade)*max(1, math.Abs(math.Log10(k.CurveAgeS))) <= mostCreep
}

// agedBy is what the readings of a hold are too large by, a factor, where the
// creep is c a decade; 1 where it is not known well enough.
func agedBy(c float64, p releve.Pulse, k *device.Calibration) float64 {
	if !takenOut(k) {
		return 1
	}
	return (1 + c*logAge(p)) / (1 + c*math.Log10(k.CurveAgeS))
}

// logAge is the mean log₁₀ of the age of the load over a hold, s. The load is
// taken to have come on evenly between onset and hold, each part of it ageing by
// itself (Boltzmann's superposition): with u the age of the first part, of one
// that came on s later u − s, the mean over both is that of second integrals of
// log, which are u²·(ln u − 3/2)/2.
func logAge(p releve.Pulse) float64 {
	rise, held := p.HoldStartS-p.OnsetS, p.HoldEndS-p.HoldStartS
	if held <= 0 {
		return 0
	}
	rise = max(rise, 1e-3) // of no length it is the limit of a short one
	second := func(u float64) float64 {
		if u <= 0 {
			return 0
		}
		return u * u * (math.Log(u) - 1.5) / 2
	}
	return (second(rise+held) - second(rise) - second(held)) / (rise * held) / math.Ln10
}

// aged returns a map, kPa, whose readings are divided by a factor.
func (g *foot) aged(p []float64, by float64) []float64 {
	if by == 1 {
		return p
	}
	out := make([]float64, len(p))
	for k, v := range p {
		out[k] = g.curve.KPa(k, g.curve.Counts(k, v)/by)
	}
	return out
}

// rested takes the creep out of the map of a hold, kPa, and returns by how much
// the load may still be off, a share, taken as the half-width of a rectangle: where the
// creep is known to a standard uncertainty, what that of √3 of it changes; where
// it is not, all that was taken out. Without the age of the curve nothing is
// taken out, and what is left is what a decade of time makes.
func (g *foot) rested(seen []float64, p releve.Pulse) (pressure []float64, most float64) {
	k := &g.strip.Calibration
	load := func(p []float64) float64 { n, _ := g.light(p); return n }
	if !takenOut(k) {
		return seen, k.CreepPerDecade
	}
	pressure = g.aged(seen, agedBy(k.CreepPerDecade, p, k))
	if k.UCreep == 0 {
		return pressure, math.Abs(load(seen)/load(pressure) - 1)
	}
	other := g.aged(seen, agedBy(k.CreepPerDecade+math.Sqrt(3)*k.UCreep, p, k))
	return pressure, math.Abs(load(other)/load(pressure) - 1)
}

// restedPeak takes the creep of a hold out of a pressure in it, kPa.
func (g *foot) restedPeak(kPa float64, p releve.Pulse) float64 {
	k := &g.strip.Calibration
	return g.curve.KPa(0, g.curve.Counts(0, kPa)/agedBy(k.CreepPerDecade, p, k))
}
