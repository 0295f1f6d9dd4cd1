package hold

import (
	"math"
	"math/rand/v2"
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/sway"
	"aplomb/device/platform"
)

// Typical is the mean of a foot's holds in a recording. Sensitivities and Monte Carlo
// draws are computed for it once, since the holds of one dancer are similar.
type Typical struct {
	pressure, noise []float64            // means over the holds, kPa, in scan order
	full            field.Reconstruction // reconstruction of pressure
	hold            *measure.Hold
	noiseDraws      map[measure.Measure][]float64
	tilt            platform.Point // change of contact share with the centre of pressure along medial and over, 1/mm
	effects         []effectOf     // of the sources
}

// holdResult is the result of a hold before its uncertainty is known.
type holdResult struct {
	*measure.Hold
	full    field.Reconstruction            // reconstruction of the hold's mean map
	errors  standardErrors                  // standard errors of its means
	swayMM  platform.Point                  // standard deviations of the centre of pressure over the whole hold, 0 where they are not defined
	changes map[measure.Measure]sway.Change // from its first third to its last; nil where the hold is too short
}

// standardErrors are the standard errors of the means over a hold, by batch means.
// They include the noise of the cells, and are NaN where there are too few frames.
type standardErrors struct {
	copMM platform.Point
	loadN float64
	dof   float64
}

// of returns the standard error of a measure's mean. Contact share changes with the
// centre of pressure by tilt, 1/mm.
func (s standardErrors) of(m measure.Measure, tilt platform.Point) float64 {
	switch m {
	case measure.Over:
		return s.copMM[1]
	case measure.Medial:
		return s.copMM[0]
	case measure.ContactShare:
		return math.Hypot(tilt[0]*s.copMM[0], tilt[1]*s.copMM[1])
	}
	return s.loadN
}

// effectOf returns the effect of a source of uncertainty on the measures of a hold.
type effectOf func(*Hold, *holdResult) measure.Effect

// constantEffect returns an effect that is the same for all holds of a recording.
func constantEffect(e measure.Effect) effectOf {
	return func(*Hold, *holdResult) measure.Effect { return e }
}

// withUnlimitedDOF gives standard uncertainties unlimited degrees of freedom.
func withUnlimitedDOF(u map[measure.Measure]float64) map[measure.Measure]measure.StandardUncertainty {
	all := make(map[measure.Measure]measure.StandardUncertainty, len(u))
	for m, v := range u {
		all[m] = measure.StandardUncertainty{U: v, DOF: measure.Unlimited}
	}
	return all
}

// tiltMM is the distance, mm, by which a tilt of the platform moves the load in each
// direction to find the sensitivity of contact. It is so small that terms of second order
// in field.Grid.Tilt are negligible.
const tiltMM = 0.1

// tiltSensitivity returns the derivative of contact share with respect to the centre of
// pressure along medial and over, 1/mm, as the platform tilts on its elastic bed.
func (in *Instrument) tiltSensitivity(t *Typical) (perMM platform.Point) {
	for axis := range perMM {
		var d platform.Point
		d[axis] = tiltMM
		a := in.Grid.ReconstructFrom(t.full, in.Grid.Tilt(t.full, t.pressure, t.noise, platform.Point{-d[0], -d[1]}), t.noise)
		b := in.Grid.ReconstructFrom(t.full, in.Grid.Tilt(t.full, t.pressure, t.noise, d), t.noise)
		if moved := b.CoP[axis] - a.CoP[axis]; moved > 0 {
			perMM[axis] = math.Abs(b.ContactShare-a.ContactShare) / moved
		}
	}
	return perMM
}

// Streams of random numbers for Monte Carlo draws. The draws of one source are the same
// for all recordings of a strip, so that compare can subtract what two recordings have in
// common.
const (
	gainStream  = 1
	noiseStream = 2
)

// drawCount is the number of Monte Carlo draws of a source. A standard deviation from 16
// draws has a relative standard error of about a sixth.
const drawCount = 16

// draws measures the typical map with normal errors of standard deviation sd, kPa, in
// each cell, and returns the change of each measure in every draw. A source without
// errors has no draws.
func (in *Instrument) draws(stream uint64, sd []float64, t *Typical) map[measure.Measure][]float64 {
	changes := map[measure.Measure][]float64{}
	if slices.Max(sd) == 0 {
		return changes
	}
	rng := newStream(stream)
	drawn := make([]float64, len(t.pressure))
	for range drawCount {
		for k := range drawn {
			drawn[k] = t.pressure[k] + sd[k]*rng.NormFloat64()
		}
		v := in.measuresOf(in.Grid.ReconstructFrom(t.full, drawn, t.noise))
		for _, m := range locatedMeasures {
			changes[m] = append(changes[m], change(m, v, t.hold))
		}
	}
	return changes
}

// newStream returns the generator of a stream, with the same numbers every time.
func newStream(stream uint64) *rand.Rand { return rand.New(rand.NewPCG(stream, 1)) }
