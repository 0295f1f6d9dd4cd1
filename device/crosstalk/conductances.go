package crosstalk

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What ends Undo: readings met to so small a part of the largest, or so many rounds.
const (
	tolerance     = 1e-6
	maxRounds     = 60
	scalingRounds = 8 // rounds that only scale, which lead near from anywhere
)

// Undo sets g to what the cells must conduct for a reader to see them as seen;
// it is the inverse of Read. Both are row by row. No cell is taken to conduct
// less than nothing, so seen below 0 counts as 0, and so does what is less than
// the others lead round to a cell that conducts nothing. It returns false, with
// g as near as it came, where it found no conductances that lead to seen: then
// these are not readings of this network.
//
// The first rounds scale each cell by how much too large it is seen; the others
// are Newton's, in which no cell falls below a tenth of itself. Each takes a Read
// and a system of rows·cols equations, so it is for mean maps and not for frames.
func (n *Grid) Conductances(seen, g []float64) bool {
	most := 0.0
	for k, v := range seen {
		g[k] = math.Max(0, v)
		most = math.Max(most, v)
	}
	if most == 0 || n.tie == 0 || n.rows == 1 || n.cols == 1 {
		return true
	}
	size := len(g)
	read, slope := make([]float64, size), mat.NewDense(size, size, nil)
	off, step := mat.NewVecDense(size, nil), mat.NewVecDense(size, nil)
	for turn := range maxRounds {
		n.Readings(g, read)
		worst := 0.0
		for k, v := range seen {
			d := math.Max(0, v) - read[k]
			if d < 0 && g[k] <= tolerance*most { // it cannot conduct less than nothing
				d = 0
			}
			off.SetVec(k, d)
			worst = math.Max(worst, math.Abs(d))
		}
		if worst <= tolerance*most {
			return true
		}
		if turn >= scalingRounds {
			n.slopes(slope)
			for k := range g { // a cell that is down at nothing stays there
				if off.AtVec(k) == 0 && g[k] <= tolerance*most {
					for j := range g {
						slope.Set(k, j, 0)
					}
					slope.Set(k, k, 1)
				}
			}
		}
		if turn < scalingRounds || step.SolveVec(slope, off) != nil {
			for k := range g {
				if read[k] > 0 {
					g[k] *= math.Max(0, seen[k]) / read[k]
				}
			}
			continue
		}
		for k := range g {
			g[k] = math.Max(g[k]/10, g[k]+step.AtVec(k))
		}
	}
	return false
}

// slopes sets to[k][j] to what one more conductance of cell j adds to what is
// seen of cell k, at the conductances that were read last: minus the product of
// the voltages across j with k's row at one volt and its column at ground, and the
// other way about (the adjoint network: S. Director and R. Rohrer, IEEE Trans.
// Circuit Theory 16 (1969) 318-323, from memory).
func (n *Grid) slopes(to *mat.Dense) {
	size := n.rows + n.cols
	z := func(i, j int) float64 { return n.z[i*size+j] }
	u, v := make([]float64, size), make([]float64, size)
	for r := range n.rows {
		for c := range n.cols {
			col := n.rows + c
			rr, rc, cc := z(r, r), z(r, col), z(col, col)
			a, b := rr-rc, cc-rc
			det := rc*(a+b) + a*b // as in Read
			for i := range u {
				u[i] = (cc*z(i, r) - rc*z(i, col)) / det
				v[i] = (rr*z(i, col) - rc*z(i, r)) / det
			}
			for j := range n.rows * n.cols {
				x, y := j/n.cols, n.rows+j%n.cols
				to.Set(r*n.cols+c, j, -(u[x]-u[y])*(v[x]-v[y]))
			}
		}
	}
}
