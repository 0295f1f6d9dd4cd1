package sim

import (
	"math"

	"aplomb/device/platform"
)

// dome is the curved shape of a platform: the gap below its highest point to a level plane is
// height·((medial/half[0])² + (over/half[1])²), mm. The zero dome is flat.
type dome struct {
	height float64        // mm
	half   platform.Point // half the outline's extent along each axis, mm
}

func newDome(outline platform.Polygon, height float64) dome {
	lo, hi := outline.Bounds()
	return dome{height, platform.Point{max(-lo[0], hi[0]), max(-lo[1], hi[1])}}
}

// curvature returns the second derivatives of the gap, 1/mm.
func (d dome) curvature() (m, o float64) {
	if d.height == 0 {
		return 0, 0
	}
	return 2 * d.height / (d.half[0] * d.half[0]), 2 * d.height / (d.half[1] * d.half[1])
}

// gap returns the gap at a point, mm.
func (d dome) gap(q platform.Point) float64 {
	km, ko := d.curvature()
	return km/2*q[0]*q[0] + ko/2*q[1]*q[1]
}

// planeOver returns the plane that approximates the gap over a small region. It has the slope
// of the gap at the centroid and its mean over the region.
func (d dome) planeOver(region platform.Moments) plane {
	if d.height == 0 {
		return plane{}
	}
	km, ko := d.curvature()
	c := region.Centroid
	mean := d.gap(c) + (km*region.MM+ko*region.OO)/(2*region.Area)
	m, o := km*c[0], ko*c[1]
	return plane{mean - m*c[0] - o*c[1], m, o}
}

// tileSize is the size of the tiles of a domed region, mm. The load on a tile that touches
// wholly is exact; the approximation affects only tiles at the edge of the contact.
const tileSize = 2.5

// tiles divides the part of a region inside a convex window into tiles: one for a flat
// platform, for which it is exact, and tiles of about tileSize × tileSize for a domed one. The
// window is a parallelogram a, b, c, d.
func (d dome) tiles(region, window platform.Polygon) []tile {
	n, m := 1, 1
	if d.height != 0 {
		n, m = tileCount(window[0], window[1]), tileCount(window[1], window[2])
	}
	at := func(i, j int) platform.Point {
		s, t := float64(i)/float64(n), float64(j)/float64(m)
		a, b, c := window[0], window[1], window[2]
		return platform.Point{
			a[0] + s*(b[0]-a[0]) + t*(c[0]-b[0]),
			a[1] + s*(b[1]-a[1]) + t*(c[1]-b[1]),
		}
	}
	var tiles []tile
	for j := range m {
		for i := range n {
			p := region.Clip(platform.Polygon{at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)})
			if p.Area() > 1e-9 {
				tiles = append(tiles, newTile(p, d))
			}
		}
	}
	return tiles
}

func tileCount(a, b platform.Point) int {
	return max(1, int(math.Ceil(math.Hypot(b[0]-a[0], b[1]-a[1])/tileSize)))
}
