package sim

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// ActiveAreas are the active areas of a strip's cells in their true place under a platform.
type ActiveAreas struct {
	sole  *Sole
	area  float64  // of one cell's active area, mm²
	tiles [][]tile // of each cell the part inside the outline, in the order of the scan
}

// NewActiveAreas places a strip under a platform. The strip's Mount is its true seat.
func NewActiveAreas(strip *device.Strip, sole *Sole) *ActiveAreas {
	p := &ActiveAreas{sole: sole, area: strip.CellMM[0] * strip.CellMM[1], tiles: make([][]tile, strip.Cells())}
	// The active area is the pitch rectangle of the cell, scaled about its centre.
	sm, so := strip.CellMM[0]/strip.PitchMM[0], strip.CellMM[1]/strip.PitchMM[1]
	for k := range p.tiles {
		o := strip.CellOutline(strip.RowCol(k))
		at := func(s, t float64) platform.Point {
			s, t = (1+s*sm)/2, (1+t*so)/2
			return platform.Point{
				o[0][0] + s*(o[1][0]-o[0][0]) + t*(o[3][0]-o[0][0]),
				o[0][1] + s*(o[1][1]-o[0][1]) + t*(o[3][1]-o[0][1]),
			}
		}
		p.tiles[k] = sole.dome.tiles(sole.outline, platform.Polygon{at(-1, -1), at(1, -1), at(1, 1), at(-1, 1)})
	}
	return p
}

// Read sets kPa[k] to the force on the k-th cell of the scan divided by its active area. Of a
// cell that extends beyond the outline only the part inside is loaded.
func (p *ActiveAreas) Read(pose Pose, kPa []float64) {
	for k, tiles := range p.tiles {
		force := 0.0
		for i := range tiles {
			m, u := tiles[i].contact(pose)
			force += u.c*m.a + u.m*m.m + u.o*m.o
		}
		kPa[k] = p.sole.stiffness * max(0, force) / p.area
	}
}
