package field

import "aplomb/device/platform"

// Lean returns the readings p as they would be had the platform leaned in its
// bed so that the centre of pressure moved by d, mm, the load staying as it is.
// like is their reconstruction. A rigid platform that leans a little adds a
// plane to the pressure wherever it touches, if its bed is equally stiff there;
// what that moves the edge of contact is of second order in the readings. d is
// reached only about, so measure where the load went. p comes back unchanged
// where the contact is too small to say.
func (g *Grid) Lean(like Map, p, noise []float64, d platform.Point) []float64 {
	leant := append([]float64(nil), p...)
	touching, middle, second := g.touching(like, p, noise)
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
		rise := slope[0]*(c.at[0]-middle[0]) + slope[1]*(c.at[1]-middle[1])
		leant[k] = max(min(0, p[k]), p[k]+rise*c.area/g.cellArea)
	}
	return leant
}

// touch is the part of a cell that carries pressure: its area, mm², and centroid.
type touch struct {
	area float64
	at   platform.Point
}

// touching returns the contact in each cell, and of all of it the centroid and
// the second moments about that (medial², medial·over, over²), mm⁴, taking each
// cell's part for a point.
func (g *Grid) touching(like Map, p, noise []float64) (parts []touch, middle platform.Point, second [3]float64) {
	if like.Family == "" {
		return nil, middle, second
	}
	var patches [][]patch
	if like.Family == CellByCell {
		p = g.filled(p)
		patches = g.cellByCell(g.expect(p, noise), noise)
	} else {
		patches = like.explanation.shape(g)
	}
	parts = make([]touch, len(g.cells))
	all := 0.0
	for k := range patches {
		var s sums
		for _, q := range patches[k] {
			q.f.c -= q.least
			one := q.part.integrate(q.f, 0)
			s.of += one.of
			s.mom[0] += one.mom[0]
			s.mom[1] += one.mom[1]
		}
		if s.of <= 0 {
			continue
		}
		parts[k] = touch{s.of, platform.Point{s.mom[0] / s.of, s.mom[1] / s.of}}
		all += s.of
		middle[0] += s.mom[0]
		middle[1] += s.mom[1]
	}
	if all == 0 {
		return nil, middle, second
	}
	middle = platform.Point{middle[0] / all, middle[1] / all}
	for _, c := range parts {
		m, o := c.at[0]-middle[0], c.at[1]-middle[1]
		second[0] += c.area * m * m
		second[1] += c.area * m * o
		second[2] += c.area * o * o
	}
	return parts, middle, second
}
