package crosstalk

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	// tolerance is the difference between readings at which Conductances ends, as a
	// fraction of the largest reading.
	tolerance = 1e-6
	// maxRounds is the number of rounds after which it gives up.
	maxRounds = 60
	// scalingRounds is the number of rounds that only scale. They lead from any reading
	// to where Newton's method converges.
	scalingRounds = 8
)

// Conductances sets g to the conductances of the cells for which Readings returns seen;
// it is the inverse of Readings. Both are row by row. No conductance is negative, so a
// negative reading counts as 0, and so does one below the crosstalk of the others on a
// cell that does not conduct. It returns false, with the closest result in g, where no
// conductances give seen: then seen are not readings of this grid.
//
// The first rounds scale each conductance by the ratio of the reading to the computed
// one. The others are Newton's method, limited so that no conductance decreases to less
// than a tenth in one round. A round takes a call of Readings and the solution of a
// system of rows·cols equations, so this is for mean maps and not for frames.
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
			if d < 0 && g[k] <= tolerance*most { // its conductance is 0 already
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
			for k := range g { // a conductance of 0 stays 0
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

// slopes sets to[k][j] to the derivative of the reading of cell k with respect to the
// conductance of cell j, at the conductances of the last Readings: minus the product of
// two voltages across j, with k's row at one volt and its column at ground, and the other
// way about (the adjoint network: S. Director and R. Rohrer, IEEE Trans. Circuit Theory 16
// (1969) 318-323).
func (n *Grid) slopes(to *mat.Dense) {
	size := n.rows + n.cols
	z := func(i, j int) float64 { return n.z[i*size+j] }
	u, v := make([]float64, size), make([]float64, size)
	for r := range n.rows {
		for c := range n.cols {
			col := n.rows + c
			rr, rc, cc := z(r, r), z(r, col), z(col, col)
			a, b := rr-rc, cc-rc
			det := rc*(a+b) + a*b // as in Readings
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
