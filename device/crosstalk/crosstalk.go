// Package network is a grid of pressure-dependent resistors as an electrical
// network: what a reader sees of one cell when current can also take the way
// round through others.
//
// Every cell joins its row's line to its column's. To read a cell its row is
// driven with one volt, its column is kept at ground, and what flows out of the
// column is taken for the cell's conductance. Where every idle line is kept at
// ground as well, it is that. Where idle lines float, current also goes along the
// row to another cell, down that one's column, through a third cell and back
// along its row: the cell reads too much, and one without load reads a ghost.
//
// Conductances are in any one unit, resistances in its inverse, so counts will
// do for the one and 1/counts for the other. It imports nothing of ours.
package crosstalk

import "math"

// leak is what a line that floats conducts to ground all the same, as a
// fraction of all cells together. Without any, its potential would be undefined
// where none of its cells conducts. What a reader sees is off by about as much.
const leak = 1e-8

// Floating is the tie of lines that are left alone.
var Floating = math.Inf(1)

// Network is a grid of so many lines, and how its idle lines are tied.
type Grid struct {
	rows, cols int
	tie        float64
	z          []float64 // (rows+cols)², scratch: node admittance and its inverse
}

// New makes a network whose idle lines each go to ground through the
// resistance tie: 0 holds them there perfectly, +Inf lets them float.
func New(rows, cols int, tie float64) *Grid {
	n := rows + cols
	return &Grid{rows: rows, cols: cols, tie: tie, z: make([]float64, n*n)}
}

// Read sets seen to what a reader sees of every cell when they conduct g. Both
// are row by row, of length rows·cols, and may be the same slice. No cell may
// conduct less than nothing. It takes (rows+cols)³ multiplications and does not allocate.
//
// With every line tied, Kirchhoff's laws read Y·u = i for the potentials u of
// the lines and the currents i fed into them, Y being the node admittance
// matrix. For two lines r and c alone that leaves the potentials Z·i with the
// 2 × 2 block Z of the inverse of Y; the current out of c at zero with r at one
// is Z_rc ÷ (Z_rr·Z_cc − Z_rc²), in which the ties of these two have no part.
// (Node analysis and the reduction to two ports are in any textbook of circuit
// theory; written from memory.)
func (n *Grid) Readings(g, seen []float64) {
	total := 0.0
	for _, v := range g {
		total += v
	}
	if n.tie == 0 || total == 0 || n.rows == 1 || n.cols == 1 { // there is no way round
		copy(seen, g)
		return
	}
	n.admittance(g, max(1/n.tie, leak*total))
	n.invert()
	size := n.rows + n.cols
	for r := range n.rows {
		for c := range n.cols {
			rr, rc, cc := n.z[r*size+r], n.z[r*size+n.rows+c], n.z[(n.rows+c)*(size+1)]
			// Z_rr·Z_cc − Z_rc², without taking large numbers from each other twice.
			a, b := rr-rc, cc-rc
			seen[r*n.cols+c] = rc / (rc*(a+b) + a*b)
		}
	}
}

// admittance sets z to the node admittance matrix with every line tied by hold.
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

// invert replaces z by its inverse (Gauss and Jordan). Its diagonal dominates,
// so the largest pivot is always the next one.
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
