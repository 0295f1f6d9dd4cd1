package field

import (
	"math"

	"aplomb/device/platform"
)

// region is a polygon with its moments.
type region struct {
	outline platform.Polygon
	moments platform.Moments
	reach   float64 // from the centroid to the farthest corner, mm
}

func newRegion(outline platform.Polygon) region {
	s := region{outline: outline, moments: outline.Moments()}
	for _, q := range outline {
		s.reach = max(s.reach, math.Hypot(q[0]-s.moments.Centroid[0], q[1]-s.moments.Centroid[1]))
	}
	return s
}

// halfPlane returns the part of the region where n·r ≤ d; n has length 1.
func (s region) halfPlane(n platform.Point, d float64) region {
	depth := d - n[0]*s.moments.Centroid[0] - n[1]*s.moments.Centroid[1]
	switch {
	case depth >= s.reach:
		return s
	case depth <= -s.reach:
		return region{}
	}
	return newRegion(s.outline.HalfPlane(n, d))
}

// integrate returns the integral of max(0, f)ⁿ over the region and its first
// moments; n > -1.
func (s region) integrate(f plane, n float64) integrals {
	if s.moments.Area == 0 {
		return integrals{}
	}
	f0 := f.at(s.moments.Centroid)
	d := s.reach * math.Hypot(f.grad[0], f.grad[1])
	switch {
	case f0+d <= 0:
		return integrals{}
	case d < f0 && (n == 0 || n == 1), d < 0.2*f0:
		return integrateExpansion(s.moments, f, n)
	}
	return integrate(s.outline, f, n)
}

// split divides the region, a part of square, into its parts in pieces × pieces
// smaller squares.
func (s region) split(square platform.Polygon) []region {
	at := func(i, j int) platform.Point {
		u, v := float64(i)/pieces, float64(j)/pieces
		return platform.Point{
			square[0][0] + u*(square[1][0]-square[0][0]) + v*(square[3][0]-square[0][0]),
			square[0][1] + u*(square[1][1]-square[0][1]) + v*(square[3][1]-square[0][1]),
		}
	}
	var list []region
	for i := range pieces {
		for j := range pieces {
			window := platform.Polygon{at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)}
			if piece := newRegion(s.outline.Clip(window)); piece.moments.Area > 1e-6*s.moments.Area {
				list = append(list, piece)
			}
		}
	}
	return list
}

// pieces is the number of parts each way into which a cell is divided for a dome,
// small enough to replace the dome by its tangent.
const pieces = 3
