package field

import "aplomb/device/platform"

// patch is pressure within one cell up to a factor: max(0, f)^exponent on part
// and 0 elsewhere. The factor makes the cell's mean equal its reading.
type patch struct {
	part      region
	f         plane
	exponent  float64
	threshold float64 // the value of f up to which the pressure does not count as contact
}

// load returns load and first moments, up to the factor.
func (q patch) load() integrals { return q.part.integrate(q.f, q.exponent) }

// contact returns the area that carries pressure, mm².
func (q patch) contact() float64 {
	q.f.c -= q.threshold
	return q.part.integrate(q.f, 0).value
}

// thirds returns the load, up to the factor, behind the first of two lines of
// constant over, between them, and in front of the second.
func (q patch) thirds(lines [2]float64) [3]float64 {
	all := q.load().value
	q.part = q.part.halfPlane(platform.Point{0, 1}, lines[1])
	behind := q.load().value
	q.part = q.part.halfPlane(platform.Point{0, 1}, lines[0])
	back := q.load().value
	return [3]float64{back, behind - back, all - behind}
}
