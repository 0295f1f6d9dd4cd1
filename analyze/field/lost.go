package field

import "math"

// WithoutCells returns the grid without the readings of some cells, given by
// their index in the scan, in addition to those that g leaves out already. These
// cells are called lost.
//
// [Grid.Reconstruct] fits its models to the other cells, and a model that fits
// gives the load of the lost ones. Where none fits, the pressure of a lost cell
// is interpolated by the plane through its neighbours if at least two of the four
// lines through it (row, column, diagonals) have a neighbour in use on both
// sides, with at least a fifth of each inside the outline. Otherwise the value
// would be an extrapolation: the cell counts as unloaded and is listed in
// [Reconstruction.Unfilled]. In [Grid.Weights] the weight of a lost cell is added
// to its neighbours' by the same rule.
func (g *Grid) WithoutCells(cells []int) *Grid {
	lost := make([]bool, len(g.cells))
	copy(lost, g.lost)
	for _, k := range cells {
		lost[k] = true
	}
	h := *g
	h.lost, h.used = lost, nil
	h.cells = append([]cell(nil), g.cells...)
	h.gradients = make([][]gradientTerm, len(g.cells))
	h.fillTerms = make([][]fillTerm, len(g.cells))
	for _, k := range g.inside {
		if !lost[k] {
			h.used = append(h.used, k)
		}
	}
	for _, k := range g.inside {
		h.cells[k].neighbours = h.withoutLost(g.cells[k].neighbours)
		h.cells[k].neighbours2 = h.withoutLost(g.cells[k].neighbours2)
	}
	for _, k := range g.inside {
		switch {
		case !lost[k]:
			h.gradients[k] = h.gradientStencil(k)
		case h.enclosed(k):
			h.gradients[k], h.fillTerms[k] = h.gradientStencil(k), h.fillStencil(k)
		}
	}
	return &h
}

// Lost returns the lost cells by their index in the scan.
func (g *Grid) Lost() (cells []int) {
	for k, is := range g.lost {
		if is {
			cells = append(cells, k)
		}
	}
	return cells
}

// LeaveNeighboursOut repeats the reconstruction of the readings with one more
// cell left out: for each lost cell at least partly inside the outline, without
// each of its neighbours in use in turn; result[i][j] is for the i-th lost cell
// without its j-th neighbour. The differences of a measure from that of
// Reconstruct give its standard uncertainty due to lost cells: the root mean
// square over the neighbours of a lost cell, and the root of the sum of squares
// over lost cells. It is conservative, because a cell is harder to replace where
// another is missing beside it.
func (g *Grid) LeaveNeighboursOut(p, noise []float64) [][]Reconstruction {
	var all [][]Reconstruction
	for _, k := range g.Lost() {
		if g.cells[k].w == 0 {
			continue
		}
		var maps []Reconstruction
		for _, j := range g.cells[k].neighbours {
			if g.cells[j].w >= minInside {
				maps = append(maps, g.WithoutCells([]int{j}).Reconstruct(p, noise))
			}
		}
		all = append(all, maps)
	}
	return all
}

// withoutLost returns those of the cells that are not lost.
func (g *Grid) withoutLost(cells []int) (list []int) {
	for _, k := range cells {
		if !g.lost[k] {
			list = append(list, k)
		}
	}
	return list
}

// minLines is the number of lines through a lost cell that must have a neighbour
// in use on both sides for its pressure to be interpolated.
const minLines = 2

// enclosed reports whether the pressure of the lost cell k can be interpolated.
func (g *Grid) enclosed(k int) bool {
	row, col := g.strip.RowCol(k)
	var there [3][3]bool
	for _, j := range g.cells[k].neighbours {
		if g.cells[j].w >= minInside {
			r, c := g.strip.RowCol(j)
			there[r-row+1][c-col+1] = true
		}
	}
	lines := 0
	for _, d := range [4][2]int{{0, 1}, {1, 0}, {1, 1}, {1, -1}} {
		if there[1+d[0]][1+d[1]] && there[1-d[0]][1-d[1]] {
			lines++
		}
	}
	return lines >= minLines
}

// fillTerm is one term of the interpolated reading of a lost cell: factor × the
// reading of cell.
type fillTerm struct {
	cell   int
	factor float64
}

// fillStencil returns the interpolated reading of the lost cell k as a linear
// combination of its neighbours' readings: the plane through their mean
// pressures, at the centroid of its part.
func (g *Grid) fillStencil(k int) []fillTerm {
	c := &g.cells[k]
	fill := make([]fillTerm, len(c.neighbours))
	alone := make([]float64, len(g.cells))
	for i, j := range c.neighbours { // the plane is linear in the readings, so that unit readings give the factors
		alone[j] = 1
		fill[i] = fillTerm{j, c.w * g.planeThrough(c.neighbours, alone, func(int) float64 { return 1 }).at(c.centroid)}
		alone[j] = 0
	}
	return fill
}

// fillFromNeighbours returns the readings with those of lost cells interpolated
// from their neighbours, or 0 where that is not possible.
func (g *Grid) fillFromNeighbours(p []float64) []float64 {
	if g.lost == nil {
		return p
	}
	q := append([]float64(nil), p...)
	for k, is := range g.lost {
		if !is {
			continue
		}
		q[k] = 0
		for _, s := range g.fillTerms[k] {
			q[k] += s.factor * p[s.cell]
		}
		q[k] = math.Max(0, q[k])
	}
	return q
}

// fillFromModel replaces the readings q of lost cells by those that the model
// predicts.
func (g *Grid) fillFromModel(q []float64, peak float64, patches [][]patch) {
	for _, k := range g.inside {
		if !g.lost[k] {
			continue
		}
		q[k] = 0
		for _, one := range patches[k] {
			q[k] += peak / g.cellArea * one.load().value
		}
	}
}
