package field

import "aplomb/device/platform"

// bed is the pressure under a flat rigid platform on a foundation without
// tension: peak·max(0, f)^exponent, kPa, where the plane f is the indentation
// relative to its largest value. The exponent 1 is the elastic (Winkler)
// foundation, whose contact follows the middle-third rule.
type bed struct {
	f        plane // relative to the largest reading, 1
	exponent float64
}

// bedOf returns the bed of parameters x: the constant of f, its gradient along
// medial and over, 1/mm, and, as an optional fourth, the exponent.
func bedOf(x []float64) bed {
	b := bed{plane{x[0], platform.Point{x[1], x[2]}}, 1}
	if len(x) > 3 {
		b.exponent = x[3]
	}
	return b
}

// bedModel predicts readings on a bed with the parameters of bedOf.
func (g *Grid) bedModel(peak float64) model {
	return func(x []float64, c *cell, slope []float64) float64 {
		b := bedOf(x)
		m, scale := b.exponent, peak/g.cellArea
		// d/dx of fᵐ is m·fᵐ⁻¹·(1, medial, over), and fᵐ = f·fᵐ⁻¹.
		s := c.part.integrate(b.f, m-1)
		value := scale * (b.f.c*s.value + b.f.grad[0]*s.moment[0] + b.f.grad[1]*s.moment[1])
		if slope == nil {
			return value
		}
		slope[0], slope[1], slope[2] = scale*m*s.value, scale*m*s.moment[0], scale*m*s.moment[1]
		if len(x) > 3 {
			const h = 1e-4
			slope[3] = 0
			if s.value > 0 {
				slope[3] = (scale*c.part.integrate(b.f, m+h).value - value) / h
			}
		}
		return value
	}
}

// fitBed fits a bed, starting from parameters x, which it overwrites. Three
// parameters fix the exponent at 1; with four it is fitted between 0.5 and 2.
func (g *Grid) fitBed(r readings, family string, x []float64) fittedModel {
	misfit := g.minimise(r, x, g.bedModel(r.peak), func(x []float64) {
		if len(x) > 3 {
			x[3] = min(2, max(0.5, x[3]))
		}
	})
	return fittedModel{family: family, misfit: misfit, x: x, patches: bedOf(x).patches}
}

// bedStart returns the parameters of the plane through the mean pressures of the
// cells that read above a tenth of the largest reading.
func (g *Grid) bedStart(r readings) []float64 {
	var cells []int
	for _, k := range g.inside {
		if r.p[k] > 0.1*r.peak*g.cells[k].w {
			cells = append(cells, k)
		}
	}
	f := g.planeThrough(cells, r.p, func(int) float64 { return 1 })
	return []float64{f.c / r.peak, f.grad[0] / r.peak, f.grad[1] / r.peak}
}

// planeThrough fits a plane, kPa, to the mean pressures p/w of the cells at the
// centroids of their parts, each weighted by w² (see gradientStencil) times
// weight.
func (g *Grid) planeThrough(cells []int, p []float64, weight func(k int) float64) plane {
	var s, m, o, q float64
	for _, k := range cells {
		c := &g.cells[k]
		v := c.w * c.w * weight(k)
		s += v
		m += v * c.centroid[0]
		o += v * c.centroid[1]
		q += v * p[k] / c.w
	}
	if s == 0 {
		return plane{}
	}
	m, o, q = m/s, o/s, q/s
	var mm, oo, mo, mq, oq float64
	for _, k := range cells {
		c := &g.cells[k]
		v := c.w * c.w * weight(k)
		dm, do, dq := c.centroid[0]-m, c.centroid[1]-o, p[k]/c.w-q
		mm, oo, mo = mm+v*dm*dm, oo+v*do*do, mo+v*dm*do
		mq, oq = mq+v*dm*dq, oq+v*do*dq
	}
	mm += 1e-3 * s * g.cellArea // as in gradientStencil
	oo += 1e-3 * s * g.cellArea
	det := mm*oo - mo*mo
	grad := platform.Point{(oo*mq - mo*oq) / det, (mm*oq - mo*mq) / det}
	return plane{q - grad[0]*m - grad[1]*o, grad}
}

// patches returns the pressure of the bed within one cell.
func (b bed) patches(c *cell) []patch {
	return []patch{{part: c.part, f: b.f, exponent: b.exponent}}
}
