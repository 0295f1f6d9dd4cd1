package sim

import (
	"math"

	"aplomb/device/platform"
)

// Sole is the underside of a platform: a rigid body, flat or domed, on an elastic bed that
// pushes but does not pull. The pressure at a point is the bed's stiffness times the depth of
// the platform there (Winkler's bed; Hetényi, Beams on Elastic Foundation (1946)), and 0 where
// the platform is above the bed.
type Sole struct {
	outline   platform.Polygon
	hull      platform.Polygon
	dome      dome
	stiffness float64 // kPa/mm
	size      float64 // a length of the platform by which tilts are multiplied to become depths, mm
	area      float64 // mm²
	tiles     []tile
}

// Pose is the position of a Sole in its bed: the depth of its highest point at the origin, and
// its slopes. A positive slope tilts it towards the big toe, or towards the front.
type Pose struct {
	DepthMM              float64
	TiltMedial, TiltOver float64 // mm per mm
}

// Contact is what a pose produces: load, centre of pressure and contact area,
// integrated over the platform.
type Contact struct {
	LoadN   float64
	CoP     platform.Point // mm
	AreaMM2 float64        // of the part in contact
	Share   float64        // contact area as a share of the platform's area
}

// NewSole returns a Sole with the given outline (counter-clockwise, centroid at the origin, as
// device.Shoe.Outline returns it). domeMM is the height of its edge above its centre, 0 for a
// flat one, and stiffness that of the bed, kPa/mm.
func NewSole(outline platform.Polygon, domeMM, stiffness float64) *Sole {
	lo, hi := outline.Bounds()
	d := newDome(outline, domeMM)
	return &Sole{
		outline:   outline,
		hull:      outline.Hull(),
		dome:      d,
		stiffness: stiffness,
		size:      math.Hypot(hi[0]-lo[0], hi[1]-lo[1]) / 4,
		area:      outline.Area(),
		tiles:     d.tiles(outline, platform.Polygon{lo, {hi[0], lo[1]}, hi, {lo[0], hi[1]}}),
	}
}

// Pressure returns the pressure at a point of the platform, kPa.
func (s *Sole) Pressure(p Pose, at platform.Point) float64 {
	u := p.DepthMM + p.TiltMedial*at[0] + p.TiltOver*at[1] - s.dome.gap(at)
	return s.stiffness * max(0, u)
}

// Contact returns load, centre of pressure and contact area of a pose. The centre of pressure
// is NaN where there is no load.
func (s *Sole) Contact(p Pose) Contact {
	r := s.press(p)
	f, area := r.force, r.stiffness[0][0]/s.stiffness
	return Contact{
		LoadN:   f[0] / 1000,
		CoP:     platform.Point{f[1] / f[0] * s.size, f[2] / f[0] * s.size},
		AreaMM2: area,
		Share:   min(1, area/s.area),
	}
}

// response is the reaction of the bed to a pose. Forces and moments are in mN, with the moments
// divided by the Sole's size, so that all three are forces.
type response struct {
	force     [3]float64    // load, its moment along medial, its moment along over
	stiffness [3][3]float64 // derivative of force with respect to the scaled pose; [0][0] is the bed's stiffness × contact area
	energy    float64       // stored in the bed, µJ
}

// press returns the reaction of the bed to a pose.
func (s *Sole) press(p Pose) (r response) {
	var all moments
	for i := range s.tiles {
		m, u := s.tiles[i].contact(p)
		if m.a == 0 {
			continue
		}
		f := m.first(u)
		for k := range f {
			r.force[k] += f[k]
		}
		r.energy += (u.c*f[0] + u.m*f[1] + u.o*f[2]) / 2
		all.a, all.m, all.o = all.a+m.a, all.m+m.m, all.o+m.o
		all.mm, all.mo, all.oo = all.mm+m.mm, all.mo+m.mo, all.oo+m.oo
	}
	k, l := s.stiffness, s.size
	r.energy *= k
	r.force = [3]float64{k * r.force[0], k * r.force[1] / l, k * r.force[2] / l}
	r.stiffness = [3][3]float64{
		{k * all.a, k * all.m / l, k * all.o / l},
		{k * all.m / l, k * all.mm / (l * l), k * all.mo / (l * l)},
		{k * all.o / l, k * all.mo / (l * l), k * all.oo / (l * l)},
	}
	return r
}
