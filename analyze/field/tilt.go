package field

import "aplomb/device/platform"

// Lean returns the readings p as they would be had the platform leaned in its
// bed so that the centre of pressure moved by d, mm, the load staying as it is.
// like is their reconstruction. A rigid platform that leans a little adds a
// plane to the pressure wherever it touches, if its bed is equally stiff there;
// what that moves the edge of contact is of second order in the readings. d is
// reached only about, so measure where the load went. p comes back unchanged
// where the contact is too small to say.
func (g *Grid) Tilt(like Reconstruction, p, noise []float64, d platform.Point) []float64 {
	leant := append([]float64(nil), p...)
	touching, middle, second := g.contactParts(like, p, noise)
	det := second[0]*second[2] - second[1]*second[1]
	if det <= 0 {
		return leant
	}
	// The plane whose moments over the contact are those of the load moved by d.
	moment := platform.Point{1000 * like.LoadN * d[0], 1000 * like.LoadN * d[1]} // kPa·mm³
	slope := platform.Point{
		(second[2]*moment[0] - second[1]*moment[1]) / det,
		(second[0]*moment[1] - second[1]*moment[0]) / det,
	}
	for k, c := range touching {
		rise := slope[0]*(c.centroid[0]-middle[0]) + slope[1]*(c.centroid[1]-middle[1])
		leant[k] = max(min(0, p[k]), p[k]+rise*c.area/g.cellArea)
	}
	return leant
}

// touch is the part of a cell that carries pressure: its area, mm², and centroid.
type contactPart struct {
	area     float64
	centroid platform.Point
}

// touching returns the contact in each cell, and of all of it the centroid and
// the second moments about that (medial², medial·over, over²), mm⁴, taking each
// cell's part for a point.
func (g *Grid) contactParts(like Reconstruction, p, noise []float64) (parts []contactPart, middle platform.Point, second [3]float64) {
	if like.Family == "" {
		return nil, middle, second
	}
	var patches [][]patch
	if like.Family == CellByCell {
		p = g.fillFromNeighbours(p)
		patches = g.cellByCell(g.expectedErrors(p, noise), noise)
	} else {
		patches = like.model.shape(g)
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
