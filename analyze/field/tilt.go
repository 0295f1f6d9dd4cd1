package field

import "aplomb/device/platform"

// Tilt returns the readings p, kPa, that a small rigid tilt of the platform would
// give if it moved the centre of pressure by d, [medial, over] in mm, at constant
// load. r is the reconstruction of p. On a foundation of uniform stiffness a
// small tilt adds a plane to the pressure within the contact; the change of the
// contact's edge is of second order in the readings. The shift d is reached
// approximately, so the caller measures the actual one. p is returned unchanged
// where the contact is too small to define the plane.
func (g *Grid) Tilt(r Reconstruction, p, noise []float64, d platform.Point) []float64 {
	tilted := append([]float64(nil), p...)
	parts, middle, second := g.contactParts(r, p, noise)
	det := second[0]*second[2] - second[1]*second[1]
	if det <= 0 {
		return tilted
	}
	// The gradient of the plane whose moments over the contact are load × d.
	moment := platform.Point{1000 * r.LoadN * d[0], 1000 * r.LoadN * d[1]} // kPa·mm³
	slope := platform.Point{
		(second[2]*moment[0] - second[1]*moment[1]) / det,
		(second[0]*moment[1] - second[1]*moment[0]) / det,
	}
	for k, c := range parts {
		rise := slope[0]*(c.centroid[0]-middle[0]) + slope[1]*(c.centroid[1]-middle[1])
		tilted[k] = max(min(0, p[k]), p[k]+rise*c.area/g.cellArea)
	}
	return tilted
}

// contactPart is the part of a cell that carries pressure: its area, mm², and
// centroid, mm.
type contactPart struct {
	area     float64
	centroid platform.Point
}

// contactParts returns the contact in each cell, the centroid of the whole
// contact, mm, and its second moments about that (medial², medial·over, over²),
// mm⁴, with each cell's part taken as a point.
func (g *Grid) contactParts(r Reconstruction, p, noise []float64) (parts []contactPart, middle platform.Point, second [3]float64) {
	if r.Family == "" {
		return nil, middle, second
	}
	var patches [][]patch
	if r.Family == CellByCell {
		p = g.fillFromNeighbours(p)
		patches = g.cellByCell(g.expectedErrors(p, noise), noise)
	} else {
		patches = r.model.shape(g)
	}
	parts = make([]contactPart, len(g.cells))
	all := 0.0
	for k := range patches {
		var s integrals
		for _, q := range patches[k] {
			q.f.c -= q.threshold
			one := q.part.integrate(q.f, 0)
			s.value += one.value
			s.moment[0] += one.moment[0]
			s.moment[1] += one.moment[1]
		}
		if s.value <= 0 {
			continue
		}
		parts[k] = contactPart{s.value, platform.Point{s.moment[0] / s.value, s.moment[1] / s.value}}
		all += s.value
		middle[0] += s.moment[0]
		middle[1] += s.moment[1]
	}
	if all == 0 {
		return nil, middle, second
	}
	middle = platform.Point{middle[0] / all, middle[1] / all}
	for _, c := range parts {
		m, o := c.centroid[0]-middle[0], c.centroid[1]-middle[1]
		second[0] += c.area * m * m
		second[1] += c.area * m * o
		second[2] += c.area * o * o
	}
	return parts, middle, second
}
