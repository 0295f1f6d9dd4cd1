package field

import (
	"math"

	"aplomb/device/platform"
)

// cellByCell returns the pressure within each cell from its neighbours alone: a
// plane with the gradient that they give and, in a cell at a sharp edge of
// contact, only on the loaded part of the cell.
func (g *Grid) cellByCell(r readings, noise []float64) [][]patch {
	loaded := g.loaded(r.p, noise, r.peak)
	inner := make([]bool, len(g.cells)) // with all neighbours loaded
	var edge []int
	expected := make([]plane, len(g.cells))
	patches := make([][]patch, len(g.cells))
	for _, k := range g.inside {
		if !loaded[k] {
			continue
		}
		local := patch{part: g.cells[k].part, f: g.localPlane(k, r.p), exponent: 1}
		if inner[k] = g.surrounded(k, loaded); !inner[k] {
			edge = append(edge, k)
			local.threshold = loadedAbove * r.peak
		}
		patches[k] = []patch{local}
	}
	for _, k := range edge {
		expected[k] = g.extrapolated(k, r.p, inner)
	}
	if g.sharpEdge(edge, r, expected) {
		for _, k := range edge {
			patches[k] = []patch{g.cutShort(k, r.p, expected[k])}
		}
	}
	return patches
}

// extrapolated returns the plane in cell k that continues the pressure of the
// inner cells up to two rows and columns away.
func (g *Grid) extrapolated(k int, p []float64, inner []bool) plane {
	c := &g.cells[k]
	var from []int
	for _, j := range c.neighbours2 {
		if inner[j] {
			from = append(from, j)
		}
	}
	if len(from) == 0 {
		return g.localPlane(k, p)
	}
	return g.planeThrough(from, p, func(j int) float64 {
		dm, do := g.cells[j].centroid[0]-c.centroid[0], g.cells[j].centroid[1]-c.centroid[1]
		return math.Exp(-(dm*dm + do*do) / (2 * g.cellArea))
	})
}

// loadedAbove is the share of the largest reading up to which a pressure counts
// as zero.
const loadedAbove = 0.01

// loaded returns, for each cell, whether it carries load: its reading is above
// five times its noise, and its mean pressure inside the outline above 1 % of the
// largest reading.
func (g *Grid) loaded(p, noise []float64, peak float64) []bool {
	is := make([]bool, len(g.cells))
	for _, k := range g.inside {
		floor := loadedAbove * peak * g.cells[k].w
		if noise != nil {
			floor = max(floor, 5*noise[k])
		}
		is[k] = p[k] > floor
	}
	return is
}

// surrounded reports whether all cells around k carry load. Cells with less than
// minInside of their area inside the outline are left out, because their readings
// are too small to show that there is no load.
func (g *Grid) surrounded(k int, loaded []bool) bool {
	for _, j := range g.cells[k].neighbours {
		if !loaded[j] && g.cells[j].w >= minInside {
			return false
		}
	}
	return true
}

// localPlane returns the plane through the mean pressure of cell k with the
// gradient of its neighbours, the gradient reduced where the plane would become
// negative within the cell.
func (g *Grid) localPlane(k int, p []float64) plane {
	c := &g.cells[k]
	mean, grad := p[k]/c.w, g.gradient(k, p)
	drop := 0.0
	for _, q := range c.part.outline {
		drop = max(drop, grad[0]*(c.centroid[0]-q[0])+grad[1]*(c.centroid[1]-q[1]))
	}
	if drop > 0.99*mean {
		grad[0] *= 0.99 * mean / drop
		grad[1] *= 0.99 * mean / drop
	}
	return plane{mean - grad[0]*c.centroid[0] - grad[1]*c.centroid[1], grad}
}

// sharpEdge reports whether pressure drops to zero at the edge of contact instead
// of decreasing gradually: the pressure extrapolated into the edge cells is a
// large share of the largest reading, and the readings there fall short of it.
func (g *Grid) sharpEdge(edge []int, r readings, expected []plane) bool {
	var deficit, all, largest float64
	for _, k := range edge {
		c := &g.cells[k]
		full := c.part.integrate(expected[k], 1).value
		d := max(0, full-r.p[k]*g.cellArea)
		deficit += d * d
		all += full * full
		largest += math.Pow(r.peak*c.part.moments.Area, 2)
	}
	return all > edgeShare*edgeShare*largest && deficit > edgeDeficit*edgeDeficit*all
}

// Thresholds of sharpEdge, root mean square over the edge cells: the extrapolated
// pressure relative to the largest reading, and its deficit relative to itself.
// For simulated Gaussian bumps the former was at most 0.21, for simulated elliptic
// patches of uniform pressure at least 0.45.
const (
	edgeShare   = 0.35
	edgeDeficit = 0.1
)

// cutShort returns the plane f, expected in cell k, on the part of the cell on
// one side of a line across the gradient, placed so that the load equals the
// reading.
func (g *Grid) cutShort(k int, p []float64, f plane) patch {
	c := &g.cells[k]
	want, up := p[k]*g.cellArea, g.gradient(k, p)
	l := math.Hypot(up[0], up[1])
	if l == 0 || c.part.integrate(f, 1).value <= want {
		return patch{part: c.part, f: g.localPlane(k, p), exponent: 1}
	}
	n := platform.Point{-up[0] / l, -up[1] / l}
	mid := n[0]*c.centroid[0] + n[1]*c.centroid[1]
	d := bisect(mid-c.part.reach, mid+c.part.reach, func(d float64) bool {
		return patch{part: c.part.halfPlane(n, d), f: f, exponent: 1}.load().value < want
	})
	return patch{part: c.part.halfPlane(n, d), f: f, exponent: 1}
}

// bisect returns the value between lo and hi at which low changes from true, at
// lo, to false, at hi.
func bisect(lo, hi float64, low func(x float64) bool) float64 {
	for range 30 {
		mid := (lo + hi) / 2
		if low(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}
