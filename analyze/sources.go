package analyze

import (
	"math"
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// sources lists the sources of uncertainty in the order in which a budget names
// them. A source is prepared once a recording and foot, at the typical hold, and
// then gives its effect on each hold. A new source is a file with such a
// function, and its line here.
var sources = []func(*instrument, *typical) effectOf{
	fromSeat,
	fromGains,
	fromZeroDrift,
	fromReconstruction,
	fromLostCells,
	fromNoise,
	fromSway,
	fromBlur,
	fromHysteresis,
	fromCreep,
}

// effectOf returns what a source of uncertainty does to the measures of a hold.
type effectOf func(*hold, *measured) measure.Effect

// always is the effect of a source that is the same for all holds of a recording.
func always(e measure.Effect) effectOf {
	return func(*hold, *measured) measure.Effect { return e }
}

// typical is the mean of a foot's holds in a recording. Sensitivities and Monte
// Carlo draws are made there once, since a dancer stands much alike from one
// relevé to the next.
type typical struct {
	pressure, noise []float64 // means over the holds, kPa, in scan order
	full            field.Map // reconstruction of pressure
	hold            *measure.Hold
	noiseDraws      map[measure.Measure][]float64
	tilt            platform.Point // change of contact share with the centre of pressure along medial and over, 1/mm
	effects         []effectOf     // of the sources
}

// typicalOf finds the typical hold, nil where there is no hold.
func (in *instrument) typicalOf(holds []*hold) *typical {
	t := &typical{pressure: make([]float64, in.strip.Cells()), noise: make([]float64, in.strip.Cells())}
	n := 0.0
	for _, h := range holds {
		if h != nil {
			n++
			for k, p := range h.pressure {
				t.pressure[k] += p
				t.noise[k] += h.noise[k]
			}
		}
	}
	if n == 0 {
		return nil
	}
	for k := range t.pressure {
		t.pressure[k] /= n
		t.noise[k] /= n
	}
	t.full = in.grid.Reconstruct(t.pressure, t.noise)
	t.hold = in.locatedAt(t.full)
	t.noiseDraws = in.draws(noiseStream, t.noise, t)
	t.tilt = in.tiltSensitivity(t)
	for _, prepare := range sources {
		t.effects = append(t.effects, prepare(in, t))
	}
	return t
}

// located lists the measures that follow from a reconstructed map and a centre
// of pressure: those that locate fills in.
var located = []measure.Measure{
	measure.Over, measure.Medial, measure.OverNorm, measure.MedialNorm, measure.ContactShare, measure.KernRatio, measure.EdgeDistance,
	measure.Load, measure.BackThird, measure.MiddleThird, measure.FrontThird, measure.PeakPressure,
}

// locate fills in every measure of where the load is: full is the reconstructed
// map, at the centre of pressure, mm, load in N.
func (in *instrument) locate(m *measure.Hold, full field.Map, at platform.Point, load float64) {
	m.LoadN = load
	m.MedialMM, m.OverMM = at[0], at[1]
	m.MedialNorm = at[0] / in.grid.Outline.Reach(platform.Point{math.Copysign(1, at[0]), 0})
	m.OverNorm = at[1] / in.grid.Outline.Reach(platform.Point{0, math.Copysign(1, at[1])})
	m.ContactMM2, m.ContactShare = full.ContactMM2, full.ContactShare
	m.Thirds = measure.Thirds{Back: full.Back, Middle: full.Middle, Front: full.Front}
	m.EdgeMM = in.grid.Outline.EdgeDistance(at)
	m.KernRatio = 0
	if reach := in.grid.Kern.Reach(at); reach > 0 {
		m.KernRatio = math.Hypot(at[0], at[1]) / reach
	}
	m.PeakKPa, m.PeakAt = full.PeakKPa, full.PeakAt
	m.OffOutlineShare = full.OffOutlineShare
}

// locatedAt returns the located measures of a reconstructed map at its own
// centre of pressure and load.
func (in *instrument) locatedAt(full field.Map) *measure.Hold {
	m := &measure.Hold{}
	in.locate(m, full, full.CoP, full.LoadN)
	return m
}

// change returns how much a measure is larger in a than in b.
func change(m measure.Measure, a, b *measure.Hold) float64 {
	x, _ := a.Value(m)
	y, _ := b.Value(m)
	return x - y
}

// exactly gives standard uncertainties unlimited degrees of freedom.
func exactly(u map[measure.Measure]float64) map[measure.Measure]measure.StandardUncertainty {
	all := make(map[measure.Measure]measure.StandardUncertainty, len(u))
	for m, v := range u {
		all[m] = measure.StandardUncertainty{U: v, DOF: measure.Unlimited}
	}
	return all
}

// tiltMM is how far a tilt of the platform moves the load either way to find the
// sensitivity of contact: so little that terms of second order in
// field.Grid.Lean do not show.
const tiltMM = 0.1

// tiltSensitivity returns how much contact share changes, 1/mm, as the platform
// tilts in its bed and the centre of pressure moves along medial and over.
func (in *instrument) tiltSensitivity(t *typical) (perMM platform.Point) {
	for axis := range perMM {
		var d platform.Point
		d[axis] = tiltMM
		a := in.grid.Again(t.full, in.grid.Lean(t.full, t.pressure, t.noise, platform.Point{-d[0], -d[1]}), t.noise)
		b := in.grid.Again(t.full, in.grid.Lean(t.full, t.pressure, t.noise, d), t.noise)
		if moved := b.CoP[axis] - a.CoP[axis]; moved > 0 {
			perMM[axis] = math.Abs(b.ContactShare-a.ContactShare) / moved
		}
	}
	return perMM
}

// Streams of random numbers for Monte Carlo draws. The draws of one source are
// the same for all recordings of a strip, so that compare can tell what two
// recordings have in common.
const (
	gainStream  = 1
	noiseStream = 2
)

// drawCount is the number of Monte Carlo draws of a source. A standard deviation
// from 16 draws is good to a sixth of itself.
const drawCount = 16

// draws measures the typical map again with normal errors of standard deviation
// sd, kPa, in each cell, and returns how much each measure changes. A source
// without errors has no draws.
func (in *instrument) draws(stream uint64, sd []float64, t *typical) map[measure.Measure][]float64 {
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
		v := in.locatedAt(in.grid.Again(t.full, drawn, t.noise))
		for _, m := range located {
			changes[m] = append(changes[m], change(m, v, t.hold))
		}
	}
	return changes
}
