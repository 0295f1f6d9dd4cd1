package seat

import "math"

// factor is the lower triangular Cholesky factor of a 3 × 3 matrix.
type factor [3][3]float64

// factor3 factors a symmetric matrix given by its lower triangle; ok is false where it is
// not positive definite.
func factor3(h *[3][3]float64) (l factor, ok bool) {
	for i := range 3 {
		for j := range i + 1 {
			v := h[i][j]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = v / l[j][j]
				continue
			}
			if !(v > 1e-12*h[i][i]) || !(v > 1e-300) {
				return l, false
			}
			l[i][i] = math.Sqrt(v)
		}
	}
	return l, true
}

// forward solves L·x = b.
func (l *factor) forward(b [3]float64) [3]float64 {
	b[0] /= l[0][0]
	b[1] = (b[1] - l[1][0]*b[0]) / l[1][1]
	b[2] = (b[2] - l[2][0]*b[0] - l[2][1]*b[1]) / l[2][2]
	return b
}

// back solves Lᵀ·x = b.
func (l *factor) back(b [3]float64) [3]float64 {
	b[2] /= l[2][2]
	b[1] = (b[1] - l[2][1]*b[2]) / l[1][1]
	b[0] = (b[0] - l[1][0]*b[1] - l[2][0]*b[2]) / l[0][0]
	return b
}

// cholesky factors an n × n matrix, given by its lower triangle, in place. It returns
// false where the matrix is not positive definite.
func cholesky(a []float64, n int) bool {
	for i := range n {
		ri := a[i*n : i*n+i+1]
		for j := range i {
			rj := a[j*n : j*n+j+1]
			v := ri[j]
			for k := range j {
				v -= ri[k] * rj[k]
			}
			ri[j] = v / rj[j]
		}
		v := ri[i]
		for k := range i {
			v -= ri[k] * ri[k]
		}
		if !(v > 0) {
			return false
		}
		ri[i] = math.Sqrt(v)
	}
	return true
}

// solve solves L·Lᵀ·x = b in place.
func solve(l []float64, n int, x []float64) {
	for i := range n {
		v := x[i]
		for k := range i {
			v -= l[i*n+k] * x[k]
		}
		x[i] = v / l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		v := x[i]
		for k := i + 1; k < n; k++ {
			v -= l[k*n+i] * x[k]
		}
		x[i] = v / l[i*n+i]
	}
}
