// Package field reconstructs the pressure under a platform from one reading per
// cell, kPa, and derives from it load, centre of pressure, contact area and the
// load in the thirds of the platform's depth, with a resolution finer than the
// cells.
//
// A reading is the force on a cell's active area divided by that area. It is
// taken to equal the force on the tributary cell (pitch × pitch) divided by the
// tributary area. A cell that extends beyond the outline is loaded only on the
// part inside: its reading is w × the mean pressure of that part, where w is the
// fraction of the cell inside.
//
// There are two ways from readings to results. [Grid.Weights] are constants for
// each cell, so that a frame costs three dot products. [Grid.Reconstruct] fits
// the pressure within the cells and integrates it; it is for the mean map of a
// hold or of a short interval.
//
// Slices over cells are in scan order, as in [device.Frame.Counts]. Points are
// [medial, over], mm.
package field

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// LoadFloorN is the load, N, below which centre of pressure and contact area are
// not defined.
const LoadFloorN = 25

// minInside is the least fraction of a cell inside the outline for its reading to
// count as a peak or as evidence that there is no load.
const minInside = 0.2

// Grid is a strip under a platform, with everything precomputed that does not
// depend on pressure. It does not change once built, so goroutines may share it.
type Grid struct {
	Outline platform.Polygon
	Area    float64 // of the outline, mm²
	Kern    platform.Polygon

	strip     *device.Strip
	cells     []cell
	inside    []int            // the cells with w > 0
	used      []int            // of these, the cells that are not lost
	lost      []bool           // per cell, whether its reading is left out; nil where none is
	fillTerms [][]fillTerm     // per lost cell, see fillStencil; nil where it cannot be interpolated
	lines     [2]float64       // over at which the back third ends and the front third begins, mm
	cellArea  float64          // mm²
	gradients [][]gradientTerm // per cell, see gradientStencil
}

// cell is one cell of the strip and the part of it inside the outline.
type cell struct {
	part        region         // empty where the cell lies outside
	w           float64        // area of part ÷ area of the cell
	centroid    platform.Point // centroid of part, or the centre of a cell outside
	pieces      []region       // part, divided into up to pieces × pieces regions
	neighbours  []int          // the up to eight cells around it with w > 0
	neighbours2 []int          // the cells with w > 0 at most two rows and columns away
}

// New returns the grid of a strip under a platform with this outline, which must
// not cross itself (see platform.Polygon.Check). Parts of the platform beyond the
// strip are not measured and count as unloaded: see device.Strip.Covers.
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

// ShiftSeat returns the grid with the seat of the strip moved by d, [medial,
// over] in mm, from that of its profile, under the same platform. Results stay in
// the platform's axes: for the same readings the centre of pressure moves by
// about d, and contact area and thirds change with the cells that the outline
// cuts. With d = ± the standard deviation of the seat along one axis, half the
// difference of the two results is a measure's standard uncertainty from the seat
// along that axis.
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

// newCell returns the cell with this centre and square outline.
func (g *Grid) newCell(centre platform.Point, square platform.Polygon) cell {
	part := newRegion(g.Outline.Clip(square))
	w := part.moments.Area / g.cellArea
	if w < 1e-6 { // the outline only touches the cell
		return cell{centroid: centre}
	}
	return cell{part: part, w: min(1, w), centroid: part.moments.Centroid, pieces: part.split(square)}
}

// third returns the third of the platform's depth in which a point lies: 0 back,
// 1 middle, 2 front.
func (g *Grid) third(over float64) int {
	switch {
	case over < g.lines[0]:
		return 0
	case over <= g.lines[1]:
		return 1
	}
	return 2
}

// neighbours returns the cells with w > 0 that are at most n rows and n columns
// from k, without k.
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
