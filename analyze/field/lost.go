package field

import "math"

// Without returns the grid of a strip some of whose cells, by their place in
// the scan, are not to be believed, besides those g does without already. What
// they read is not looked at.
//
// [Grid.Reconstruct] fits its models to the other cells, and the model that
// explains these says what the lost ones bear. Where none does, a lost cell is
// taken to bear what the plane through its neighbours has there, if it lies
// between neighbours that are believed in at least two of the four lines
// through it (row, column, diagonals), a fifth of each being inside the outline:
// then pressure is interpolated. Else it would be guessed, and the cell is taken
// to bear nothing and named in [Map.Unfilled]. In [Grid.Weights] the weight of a
// lost cell goes to its neighbours by the same rule.
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

// Lost lists the cells that g does without, by their place in the scan.
func (g *Grid) Lost() (cells []int) {
	for k, is := range g.lost {
		if is {
			cells = append(cells, k)
		}
	}
	return cells
}

// WithoutOneMore reconstructs the readings again without one more cell: for each
// lost cell that is at least partly inside the outline, without each of its
// believed neighbours in turn. By how much a measure differs in these maps from
// the one of Reconstruct says how uncertain it is for want of the lost cell: the
// root mean square over its neighbours, and over lost cells the root of the sum
// of squares. It errs on the safe side, since a cell is harder to do without
// where another is missing beside it.
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

func (g *Grid) withoutLost(cells []int) (list []int) {
	for _, k := range cells {
		if !g.lost[k] {
			list = append(list, k)
		}
	}
	return list
}

// enclosing is the number of lines through a cell that must have believed
// neighbours on both sides for it to be filled from them.
const minLines = 2

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

// share is one term of what a lost cell is taken to read: that much of what
// another cell reads.
type fillTerm struct {
	cell   int
	factor float64
}

// fillStencil returns the reading of the lost cell k as a sum over those about
// it: the plane through their mean pressures, at the centroid of its part.
func (g *Grid) fillStencil(k int) []fillTerm {
	c := &g.cells[k]
	fill := make([]fillTerm, len(c.neighbours))
	alone := make([]float64, len(g.cells))
	for i, j := range c.neighbours { // the plane is linear in the readings: take them one by one
		alone[j] = 1
		fill[i] = fillTerm{j, c.w * g.planeThrough(c.neighbours, alone, func(int) float64 { return 1 }).at(c.centroid)}
		alone[j] = 0
	}
	return fill
}

// filled returns the readings with those of lost cells replaced by what their
// neighbours say, or by 0 where they do not allow it.
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

// fillBy replaces the readings q of lost cells by what the model has there.
func (g *Grid) fillFromModel(q []float64, most float64, patches [][]patch) {
	for _, k := range g.inside {
		if !g.lost[k] {
			continue
		}
		q[k] = 0
		for _, one := range patches[k] {
			q[k] += most / g.cellArea * one.load().value
		}
	}
}
