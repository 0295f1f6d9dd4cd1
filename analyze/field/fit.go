package field

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// readings are the readings of all cells with the errors that a model is fitted
// against.
type readings struct {
	p     []float64 // kPa
	sigma []float64 // expected standard deviation of each, kPa
	peak  float64   // the largest reading, kPa
	floor float64   // the misfit due to noise alone
}

// maxParams is the largest number of parameters of a model.
const maxParams = 6

// model predicts the reading of one cell, kPa, from parameters x. Unless slope is
// nil, it receives the derivative with respect to each parameter.
type model func(x []float64, c *cell, slope []float64) float64

// misfit returns the sum of squared residuals ÷ sigma² over the cells in use.
func (g *Grid) misfit(r readings, x []float64, f model) float64 {
	sum := 0.0
	for _, k := range g.used {
		e := (r.p[k] - f(x, &g.cells[k], nil)) / r.sigma[k]
		sum += e * e
	}
	return sum
}

// normals builds the normal equations a·step = b of the Gauss-Newton step at x
// and returns the misfit at x.
func (g *Grid) normals(r readings, x []float64, f model, a *mat.SymDense, b *mat.VecDense) float64 {
	n := len(x)
	var jj [maxParams][maxParams]float64
	var jr, slope [maxParams]float64
	sum := 0.0
	for _, k := range g.used {
		s := 1 / r.sigma[k]
		e := (r.p[k] - f(x, &g.cells[k], slope[:])) * s
		sum += e * e
		for i := range n {
			si := slope[i] * s
			if si == 0 {
				continue
			}
			jr[i] += si * e
			for j := i; j < n; j++ {
				jj[i][j] += si * slope[j] * s
			}
		}
	}
	for i := range n {
		b.SetVec(i, jr[i])
		for j := i; j < n; j++ {
			a.SetSym(i, j, jj[i][j])
		}
	}
	return sum
}

// minimise improves x in place by damped Gauss-Newton steps (Marquardt, Journal
// of the Society for Industrial and Applied Mathematics 11 (1963) 431-441) and
// returns the misfit it ends with. limit, if not nil, restricts parameters to their range.
func (g *Grid) minimise(r readings, x []float64, f model, limit func(x []float64)) float64 {
	n := len(x)
	a, damped := mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	b, step := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	var chol mat.Cholesky
	var buf [maxParams]float64
	trial := buf[:n]

	at := g.normals(r, x, f, a, b)
	damping := 1e-3
	for range 15 {
		damped.CopySym(a)
		for i := range n {
			damped.SetSym(i, i, a.At(i, i)*(1+damping)+1e-300)
		}
		if !chol.Factorize(damped) || chol.SolveVecTo(step, b) != nil {
			if damping *= 100; damping > 1e6 {
				break
			}
			continue
		}
		for i := range n {
			trial[i] = x[i] + step.AtVec(i)
		}
		if limit != nil {
			limit(trial)
		}
		after := g.misfit(r, trial, f)
		if !(after < at) {
			if damping *= 10; damping > 1e6 {
				break
			}
			continue
		}
		done := at-after < 1e-3*after || after < 1e-10
		copy(x, trial)
		if done {
			return after
		}
		damping = max(damping/10, 1e-9)
		at = g.normals(r, x, f, a, b)
	}
	return at
}

// informationScore compares models with n parameters fitted to the readings of cells
// cells with an unknown scale of error; the lowest is best. It is the Bayesian
// information criterion (Schwarz, Annals of Statistics 6 (1978) 461-464) with twice its
// penalty on parameters, because sigma describes the differences in error between cells
// only roughly. The constant added to the misfit matters only for readings without noise;
// fewer parameters are then preferred.
func informationScore(misfit float64, n, cells int) float64 {
	c := float64(cells)
	return c*math.Log(misfit/c+1e-7) + 2*float64(n)*math.Log(c)
}
