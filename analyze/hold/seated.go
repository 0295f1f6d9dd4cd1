package hold

import (
	"math"
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/device/platform"
)

// SeatMaps returns the maps of presses and holds from which the seat of the strip is
// estimated. A nil hold has no map. Cells at the end of their range have no reading.
func (in *Instrument) SeatMaps(presses []measure.Press, holds []*Hold) []seat.Map {
	var maps []seat.Map
	for _, p := range presses {
		for _, kPa := range p.Maps {
			maps = append(maps, seat.Map{Kind: seat.Press, KPa: kPa, NoiseKPa: p.MapNoiseKPa})
		}
	}
	for _, h := range holds {
		if h != nil {
			maps = append(maps, seat.Map{Kind: seat.Hold, KPa: h.believed(), NoiseKPa: rms(h.noise)})
		}
	}
	return maps
}

// believed returns the pressures of the hold with NaN for the cells that reached the
// end of their range.
func (h *Hold) believed() []float64 {
	if len(h.atEnd) == 0 {
		return h.pressure
	}
	kPa := slices.Clone(h.pressure)
	for _, k := range h.atEnd {
		kPa[k] = math.NaN()
	}
	return kPa
}

// At returns the instrument with the strip at the seat that was found, under the bearing
// outline. It does not change holds and samples; Reseat moves the latter. An assumed seat
// stays that of the profile, with the uncertainty of s.
func (in *Instrument) At(s *seat.Seat) *Instrument {
	strip, at := *in.Strip, *in
	if s.Evidence == seat.Assumed {
		if sd := math.Sqrt(max(s.Cov[0][0], s.Cov[1][1])); sd > strip.Mount.SeatSDMM {
			strip.Mount.SeatSDMM, strip.Mount.SeatMountings = sd, 0
			at.Strip = &strip
		}
		return &at
	}
	strip.Mount.OffsetMM, strip.Mount.RotationDeg = s.Offset, s.RotationDeg
	at.seat = s
	at.Grid = field.New(&strip, s.Bearing)
	at.Covered = strip.CoveredShare(s.Bearing)
	if len(in.Lost) > 0 {
		at.Grid = at.Grid.WithoutCells(in.Grid.Lost())
	}
	return &at
}

// reseated returns the position, mm, of a point computed with the strip at its profile's
// seat after the strip is moved to the seat that was found.
func (in *Instrument) reseated(p platform.Point) platform.Point {
	if in.seat == nil {
		return p
	}
	m := in.Strip.Mount
	sin, cos := math.Sincos((in.seat.RotationDeg - m.RotationDeg) * math.Pi / 180)
	x, y := p[0]-m.OffsetMM[0], p[1]-m.OffsetMM[1]
	return platform.Point{in.seat.Offset[0] + cos*x - sin*y, in.seat.Offset[1] + sin*x + cos*y}
}

// Reseat moves the centre of pressure of samples, in place, from the profile's seat
// to the one that was found.
func (in *Instrument) Reseat(samples []measure.Sample) {
	if in.seat == nil {
		return
	}
	for i := range samples {
		s := &samples[i]
		p := in.reseated(platform.Point{float64(s.MedialMM), float64(s.OverMM)})
		s.MedialMM, s.OverMM = float32(p[0]), float32(p[1])
	}
}
