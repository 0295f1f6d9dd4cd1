// Package field turns one map of pressure, a reading in kPa for every cell of
// a strip, into what the platform as a whole feels: load, centre of pressure,
// contact area and thirds, finer than the cells.
//
// A reading is the force on a cell's active area divided by that area, and is
// taken to equal the force on its tributary cell (pitch × pitch) divided by the
// tributary area. A cell that hangs over the outline sees only the part inside:
// its reading is w × the mean pressure of that part, w being the fraction of
// the cell inside. Everything here follows from this.
//
// Two ways lead from readings to numbers. [Grid.Weights] are fixed numbers for
// every cell, so that a frame costs three dot products. [Grid.Reconstruct]
// finds the pressure within the cells and takes everything from that; it is for
// the mean map of a hold or a short average.
//
// Slices over cells are in the order of the strip's scan, as in
// [device.Frame.Counts]. Points are [medial, over], mm.
package field

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// LoadFloorN is the load below which there is neither a centre of pressure nor contact, N.
const LoadFloorN = 25

// minW is the least part of a cell inside the outline for its reading to count
// as a peak, or for its silence to count as an edge of contact.
const minInside = 0.2

// Grid is a strip under a platform, with everything worked out that does not
// depend on pressure. It is never changed once made, so goroutines may share it.
type Grid struct {
	Outline platform.Polygon
	Area    float64 // of the outline, mm²
	Kern    platform.Polygon

	strip     *device.Strip
	cells     []cell
	inside    []int            // the cells with w > 0
	used      []int            // of these the ones whose readings are believed
	lost      []bool           // per cell, whether it is not to be believed; nil where all are
	fillTerms [][]fillTerm     // per lost cell, see fillStencil; nil where it cannot be filled
	lines     [2]float64       // over, where the back third ends and the front third begins, mm
	cellArea  float64          // mm²
	gradients [][]gradientTerm // per cell, see slopeStencil
}

// cell is one cell of the strip and the part of it inside the outline.
type cell struct {
	part        region         // empty where the cell lies outside
	w           float64        // area of part ÷ area of the cell
	centroid    platform.Point // centroid of part, or the centre of a cell outside
	pieces      []region       // part, cut into pieces × pieces
	neighbours  []int          // the up to eight cells around it with w > 0
	neighbours2 []int          // the cells with w > 0 at most two rows and columns away
}

// New works out the grid of strip under the platform with this outline, which
// must be free of crossings (see platform.Polygon.Check). What lies beyond the
// strip is not measured and counts as unloaded: see device.Strip.Covers.
func New(strip *device.Strip, outline platform.Polygon) *Grid {
	lo, hi := outline.Bounds()
	depth := hi[1] - lo[1]
	g := &Grid{
		Outline:  outline,
		Area:     outline.Area(),
		Kern:     outline.Kern(),
		strip:    strip,
		cells:    make([]cell, strip.Cells()),
		lines:    [2]float64{lo[1] + depth/3, hi[1] - depth/3},
		cellArea: strip.CellArea(),
	}
	at := make([]int, len(g.cells)) // row·cols + col → k
	for k := range g.cells {
		row, col := strip.RowCol(k)
		at[row*strip.Cols+col] = k
		g.cells[k] = g.newCell(strip.Centre(row, col), strip.CellOutline(row, col))
		if g.cells[k].w > 0 {
			g.inside = append(g.inside, k)
		}
	}
	g.used = g.inside
	for _, k := range g.inside {
		g.cells[k].neighbours = g.neighbours(k, 1, at)
		g.cells[k].neighbours2 = g.neighbours(k, 2, at)
	}
	g.gradients = make([][]gradientTerm, len(g.cells))
	for _, k := range g.inside {
		g.gradients[k] = g.gradientStencil(k)
	}
	return g
}

// Shifted returns the grid of the same strip truly seated d further along
// [medial, over] than its profile says, under the same platform. Measures stay
// in the shoe's frame: from the same readings the centre of pressure comes out
// about d further along, and with it change contact, thirds and all else that
// depends on where the outline cuts the cells. With d = ± the standard deviation
// of a mounting along one axis, half the difference of a measure is its standard
// uncertainty from seating along that axis.
func (g *Grid) ShiftSeat(d platform.Point) *Grid {
	moved := *g.strip
	moved.Mount.OffsetMM[0] += d[0]
	moved.Mount.OffsetMM[1] += d[1]
	h := New(&moved, g.Outline)
	if lost := g.Lost(); lost != nil {
		h = h.WithoutCells(lost)
	}
	return h
}

// W returns the fraction of each cell that lies inside the outline.
func (g *Grid) W() []float64 {
	w := make([]float64, len(g.cells))
	for k := range g.cells {
		w[k] = g.cells[k].w
	}
	return w
}

func (g *Grid) newCell(centre platform.Point, square platform.Polygon) cell {
	part := newRegion(g.Outline.Clip(square))
	w := part.moments.Area / g.cellArea
	if w < 1e-6 { // touched by the outline, no more
		return cell{centroid: centre}
	}
	return cell{part: part, w: min(1, w), centroid: part.moments.Centroid, pieces: part.split(square)}
}

// third says in which third of the platform a place lies: 0 back, 1 middle, 2 front.
func (g *Grid) third(over float64) int {
	switch {
	case over < g.lines[0]:
		return 0
	case over <= g.lines[1]:
		return 1
	}
	return 2
}

// around lists the cells with w > 0 at most n rows and n columns from k, without k.
func (g *Grid) neighbours(k, n int, at []int) []int {
	var list []int
	row, col := g.strip.RowCol(k)
	for r := max(0, row-n); r <= min(g.strip.Rows-1, row+n); r++ {
		for c := max(0, col-n); c <= min(g.strip.Cols-1, col+n); c++ {
			if j := at[r*g.strip.Cols+c]; j != k && g.cells[j].w > 0 {
				list = append(list, j)
			}
		}
	}
	return list
}
