package field

import (
	"math"

	"aplomb/device/platform"
)

// dome is the pressure under a domed platform on an elastic foundation without
// tension: peak·max(0, s), kPa, where s is the quadratic surface x0 + x1·m + x2·o
// + x3·m² + x4·m·o + x5·o² at the point [m, o].
type dome [6]float64

// tangent returns a plane in place of the surface over a region, with the mean of
// the surface there and its gradient at the centroid.
func (d dome) tangent(s region) plane {
	c := s.moments.Centroid
	mean := 0.0
	for i, v := range monomials(s.moments) {
		mean += d[i] * v
	}
	grad := platform.Point{d[1] + 2*d[3]*c[0] + d[4]*c[1], d[2] + d[4]*c[0] + 2*d[5]*c[1]}
	return plane{mean - grad[0]*c[0] - grad[1]*c[1], grad}
}

// monomials returns the means of 1, m, o, m², m·o and o² over a region.
func monomials(b platform.Moments) [6]float64 {
	m, o := b.Centroid[0], b.Centroid[1]
	return [6]float64{1, m, o, m*m + b.MM/b.Area, m*o + b.MO/b.Area, o*o + b.OO/b.Area}
}

// sign returns 1 where the surface is positive all over a region, -1 where it is
// negative all over it, and 0 where it may change sign.
func (d dome) sign(s region) int {
	f := d.tangent(s)
	mid := f.at(s.moments.Centroid)
	bend := math.Abs(d[3]) + math.Abs(d[4]) + math.Abs(d[5])
	switch reach := s.reach*math.Hypot(f.grad[0], f.grad[1]) + 2*bend*s.reach*s.reach; {
	case mid > reach:
		return 1
	case mid < -reach:
		return -1
	}
	return 0
}

// domeModel predicts readings under a dome. In a piece of a cell on the edge of
// contact the surface is replaced by its tangent; elsewhere the integrals are
// exact.
func (g *Grid) domeModel(peak float64) model {
	return func(x []float64, c *cell, slope []float64) float64 {
		d := dome(x)
		scale := peak / g.cellArea
		clear(slope)
		value := 0.0
		add := func(area float64, mono [6]float64) {
			for i, v := range mono {
				value += scale * area * v * d[i]
				if slope != nil {
					slope[i] += scale * area * v
				}
			}
		}
		switch d.sign(c.part) {
		case 1:
			add(c.part.moments.Area, monomials(c.part.moments))
		case 0:
			for _, s := range c.pieces {
				if d.sign(s) == 1 {
					add(s.moments.Area, monomials(s.moments))
					continue
				}
				carries := s.integrate(d.tangent(s), 0)
				if carries.value <= 0 {
					continue
				}
				body := platform.Moments{Area: carries.value, Centroid: platform.Point{
					carries.moment[0] / carries.value, carries.moment[1] / carries.value}}
				add(carries.value, monomials(body))
			}
		}
		return value
	}
}

// fitDome fits a dome. It starts from the surface through the readings of the
// cells that read above a tenth of the largest reading.
func (g *Grid) fitDome(r readings) fittedModel {
	x := make([]float64, len(dome{}))
	start := func(x []float64, c *cell, slope []float64) float64 {
		value := 0.0
		for i, v := range monomials(c.part.moments) {
			value += r.peak * c.w * v * x[i]
			if slope != nil {
				slope[i] = r.peak * c.w * v
			}
		}
		return value
	}
	clearly := readings{p: r.p, sigma: make([]float64, len(r.p)), peak: r.peak}
	for k := range clearly.sigma {
		clearly.sigma[k] = math.Inf(1)
		if r.p[k] > 0.1*r.peak*g.cells[k].w {
			clearly.sigma[k] = r.peak
		}
	}
	g.minimise(clearly, x, start, nil)
	misfit := g.minimise(r, x, g.domeModel(r.peak), nil)
	return fittedModel{family: DomedBed, misfit: misfit, x: x, patches: dome(x).patches}
}

// patches returns the pressure of the dome within one cell.
func (d dome) patches(c *cell) []patch {
	if d.sign(c.part) == 1 {
		return []patch{{part: c.part, f: d.tangent(c.part), exponent: 1}}
	}
	list := make([]patch, len(c.pieces))
	for i, s := range c.pieces {
		list[i] = patch{part: s, f: d.tangent(s), exponent: 1}
	}
	return list
}
