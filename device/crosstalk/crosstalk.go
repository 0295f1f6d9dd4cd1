// Package crosstalk computes the crosstalk of a grid of pressure-dependent resistors: the
// readings of its cells when current also flows through other cells.
//
// Every cell connects the line of its row to the line of its column. To read a cell, one
// volt is applied to its row, its column is held at ground, and the current out of the
// column is taken as the conductance of the cell. That is exact where every idle line is
// held at ground as well. Where idle lines float, current also flows along the row to
// another cell, through it to its column, through a third cell to another row, and back:
// the reading is too large, and a cell without load has a reading.
//
// Conductances are in any unit and resistances in its inverse, such as counts and
// 1/counts. The package depends on no other package of this module.
package crosstalk

import "math"

// leak is the conductance to ground of a line that floats, as a fraction of the sum over
// all cells. Without it the potential of a line is undefined where none of its cells
// conducts. Its relative effect on readings is of the same size.
const leak = 1e-8

// Floating is the tie of lines that are not connected to ground.
var Floating = math.Inf(1)

// Grid is a grid of rows × cols cells whose idle lines are tied to ground by a resistance.
type Grid struct {
	rows, cols int
	tie        float64
	z          []float64 // (rows+cols)², scratch: node admittance and its inverse
}

// New returns a Grid whose idle lines are each connected to ground through the
// resistance tie: 0 holds them at ground, +Inf lets them float.
func New(rows, cols int, tie float64) *Grid {
	n := rows + cols
	return &Grid{rows: rows, cols: cols, tie: tie, z: make([]float64, n*n)}
}

// Readings sets seen to the readings of all cells when the cells have the conductances g.
// Both are row by row, of length rows·cols, and may be the same slice. No conductance may
// be negative. It takes (rows+cols)³ multiplications and allocates no memory.
//
// With every line tied to ground, Kirchhoff's laws read Y·u = i for the potentials u of
// the lines and the currents i fed into them; Y is the node admittance matrix. With
// currents into two lines r and c alone, their potentials are Z·i, where Z is the 2 × 2
// block of the inverse of Y. The current out of c at zero volt with r at one volt is Z_rc
// ÷ (Z_rr·Z_cc − Z_rc²); it does not depend on the ties of these two lines. The tests
// compare it with series and parallel resistances, the complete bipartite graph, and
// nodal analysis with a general solver.
func (n *Grid) Readings(g, seen []float64) {
	total := 0.0
	for _, v := range g {
		total += v
	}
	if n.tie == 0 || total == 0 || n.rows == 1 || n.cols == 1 { // there is no path through other cells
		copy(seen, g)
		return
	}
	n.admittance(g, max(1/n.tie, leak*total))
	n.invert()
	size := n.rows + n.cols
	for r := range n.rows {
		for c := range n.cols {
			rr, rc, cc := n.z[r*size+r], n.z[r*size+n.rows+c], n.z[(n.rows+c)*(size+1)]
			// Z_rr·Z_cc − Z_rc², computed without the difference of two large products.
			a, b := rr-rc, cc-rc
			seen[r*n.cols+c] = rc / (rc*(a+b) + a*b)
		}
	}
}

// admittance sets z to the node admittance matrix with a conductance hold from every line
// to ground.
func (n *Grid) admittance(g []float64, hold float64) {
	size := n.rows + n.cols
	clear(n.z)
	for i := range size {
		n.z[i*size+i] = hold
	}
	for r := range n.rows {
		for c := range n.cols {
			v, j := g[r*n.cols+c], n.rows+c
			n.z[r*size+r] += v
			n.z[j*size+j] += v
			n.z[r*size+j] -= v
			n.z[j*size+r] -= v
		}
	}
}

// invert replaces z by its inverse, by Gauss-Jordan elimination. The matrix is
// diagonally dominant, so no pivoting is needed.
func (n *Grid) invert() {
	size := n.rows + n.cols
	for i := range size {
		row := n.z[i*size : (i+1)*size]
		p := 1 / row[i]
		row[i] = 1
		for j := range row {
			row[j] *= p
		}
		for k := range size {
			if k == i {
				continue
			}
			other := n.z[k*size : (k+1)*size]
			f := other[i]
			if f == 0 {
				continue
			}
			other[i] = 0
			for j := range other {
				other[j] -= f * row[j]
			}
		}
	}
}
