package hold

import (
	"math"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// locatedMeasures lists the measures that locate sets: those that follow from a
// reconstructed map and a centre of pressure.
var locatedMeasures = []measure.Measure{
	measure.Over, measure.Medial, measure.OverNorm, measure.MedialNorm, measure.ContactShare, measure.KernRatio, measure.EdgeDistance,
	measure.Load, measure.BackThird, measure.MiddleThird, measure.FrontThird, measure.PeakPressure,
}

// locate sets in m the measures of the position of the load, from the reconstructed map
// full, the centre of pressure at, mm, and the load, N.
func (in *Instrument) locate(m *measure.Hold, full field.Reconstruction, at platform.Point, load float64) {
	m.LoadN = load
	m.MedialMM, m.OverMM = at[0], at[1]
	m.MedialNorm = at[0] / in.Grid.Outline.Reach(platform.Point{math.Copysign(1, at[0]), 0})
	m.OverNorm = at[1] / in.Grid.Outline.Reach(platform.Point{0, math.Copysign(1, at[1])})
	m.ContactMM2, m.ContactShare = full.ContactMM2, full.ContactShare
	m.Thirds = measure.Thirds{Back: full.Back, Middle: full.Middle, Front: full.Front}
	m.EdgeMM = in.Grid.Outline.EdgeDistance(at)
	m.KernRatio = 0
	if reach := in.Grid.Kern.Reach(at); reach > 0 {
		m.KernRatio = math.Hypot(at[0], at[1]) / reach
	}
	m.PeakKPa, m.PeakAt = full.PeakKPa, full.PeakAt
	m.OffOutlineShare = full.OffOutlineShare
}

// measuresOf returns the measures of a reconstructed map that locate sets, at the
// map's own centre of pressure and load.
func (in *Instrument) measuresOf(full field.Reconstruction) *measure.Hold {
	m := &measure.Hold{}
	in.locate(m, full, full.CoP, full.LoadN)
	return m
}

// change returns a measure in a less that in b.
func change(m measure.Measure, a, b *measure.Hold) float64 {
	x, _ := a.Value(m)
	y, _ := b.Value(m)
	return x - y
}
