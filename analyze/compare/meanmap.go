package compare

import (
	"math"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
)

// seated returns a strip with the seat that was found for it in a recording, or unchanged
// where none was.
func seated(strip *device.Strip, s *measure.Seat) device.Strip {
	at := *strip
	if s != nil && s.Evidence != measure.EvidenceAssumed {
		at.Mount.OffsetMM = [2]float64{s.Medial.Value, s.Over.Value}
		at.Mount.RotationDeg = s.Rotation.Value
	}
	return at
}

// meanMap returns the mean of the maps of the relevés made on the first strip, kPa, in
// scan order, as the strip would read it at its profile's seat. Maps from other seats are
// resampled.
func (p *pool) meanMap() []float64 {
	to := &p.strips[0]
	mean := make([]float64, to.Cells())
	n := 0.0
	sums := map[device.Mount][]float64{} // of the maps, by seat
	var mounts []device.Mount            // in order of appearance
	for i, r := range p.releves {
		if len(r.Map) != len(mean) {
			continue
		}
		n++
		m := p.seats[i].Mount
		if sums[m] == nil {
			sums[m], mounts = make([]float64, len(mean)), append(mounts, m)
		}
		for k, v := range r.Map {
			sums[m][k] += v
		}
	}
	for _, m := range mounts {
		sum := sums[m]
		if m != to.Mount {
			from := *to
			from.Mount = m
			sum = moved(sum, &from, to, p.platform.Outline)
		}
		for k, v := range sum {
			mean[k] += v / n
		}
	}
	return mean
}

// leastShare is the smallest share of a cell within the outline for which its reading
// gives the pressure there. A smaller share is not known accurately enough to divide by.
const leastShare = 1.0 / 3

// moved returns the readings of a strip in another seat under the same pressure: for each
// cell the mean, weighted by area within the outline, of the pressures under the cells of
// the original seat. Parts of a cell without an original cell get the mean of its other
// parts.
func moved(kPa []float64, from, to *device.Strip, outline platform.Polygon) []float64 {
	type cell struct {
		outline  platform.Polygon
		pressure float64 // on the part within the outline of the platform, kPa
	}
	there := make([]cell, len(kPa))
	area := from.CellArea()
	for k := range there {
		o := from.CellOutline(from.RowCol(k))
		if share := outline.Clip(o).Area() / area; share >= leastShare {
			there[k] = cell{o, kPa[k] / share}
		}
	}
	reach := math.Hypot(from.PitchMM[0], from.PitchMM[1])
	out := make([]float64, len(kPa))
	for k := range out {
		row, col := to.RowCol(k)
		within := outline.Clip(to.CellOutline(row, col))
		share := within.Area() / area
		if share == 0 {
			continue
		}
		centre := to.Centre(row, col)
		force, covered := 0.0, 0.0
		for i, c := range there {
			if c.outline == nil {
				continue
			}
			if at := from.Centre(from.RowCol(i)); math.Hypot(at[0]-centre[0], at[1]-centre[1]) > reach {
				continue
			}
			a := within.Clip(c.outline).Area()
			force, covered = force+a*c.pressure, covered+a
		}
		if covered > 0 {
			out[k] = force / covered * share
		}
	}
	return out
}
