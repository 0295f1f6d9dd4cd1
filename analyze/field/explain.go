package field

import (
	"math"
	"slices"
)

// explains is the largest misfit per degree of freedom at which a model counts
// as an explanation: readings off by twice what gain and noise leave open.
const explains = 4.0

// hopeless is the misfit per cell at which a model that came nearest for a
// similar map is not tried for this one.
const hopeless = 4 * explains

// leastGainSD is taken for the gains of a strip whose profile claims better.
const leastGainSD = 0.02

// explain returns the shape of pressure within each cell and what it rests on;
// like is what explained a similar map, with no family where there is none. Where
// nothing explained that one, only the model that came nearest is tried again.
func (g *Grid) explain(p, noise []float64, like candidate) ([][]patch, candidate) {
	r := g.expect(p, noise)
	if len(g.read) <= maxParams || r.most == 0 {
		return g.cellByCell(r, noise), candidate{family: CellByCell}
	}
	var c candidate
	switch {
	case like.family != CellByCell:
		c = g.refit(r, like)
		if !g.explained(c) || c.misfit > 4*like.misfit+g.plenty(r) {
			c = g.best(r)
		}
	case like.near == nil:
	case like.near.misfit > hopeless*float64(len(g.read)):
		c = *like.near
	default:
		c = g.refit(r, *like.near)
	}
	if c.patches == nil {
		return g.cellByCell(r, noise), candidate{family: CellByCell}
	}
	if g.explained(c) {
		return c.shape(g), c
	}
	return g.cellByCell(r, noise), candidate{family: CellByCell, near: &c}
}

// refit fits the model of like from its parameters.
func (g *Grid) refit(r readings, like candidate) candidate {
	x := slices.Clone(like.x)
	switch like.family {
	case LinearBed, PowerBed:
		return g.fitBed(r, like.family, x)
	case UniformCut, SlopedCut:
		return candidate{family: like.family, misfit: g.minimise(r, x, g.cutModel(r.most), nil), x: x, patches: cutOf(r.most, x).patches}
	case DomedBed:
		return candidate{family: like.family, misfit: g.minimise(r, x, g.domeModel(r.most), nil), x: x, patches: dome(x).patches}
	}
	return candidate{misfit: math.Inf(1)}
}

// explained says whether the readings are within what gain and noise leave open.
func (g *Grid) explained(c candidate) bool {
	return c.misfit <= explains*float64(len(g.read)-len(c.x))
}

// expect puts the error to be expected to each reading: its noise, its gain, and
// a part of the largest for what no model gets right.
func (g *Grid) expect(p, noise []float64) readings {
	r := readings{p: p, sigma: make([]float64, len(p))}
	for _, k := range g.inside {
		r.most = max(r.most, p[k])
	}
	gain := max(leastGainSD, g.strip.Calibration.GainSD)
	for k := range p {
		r.sigma[k] = math.Hypot(gain*p[k], 0.002*r.most)
		if noise != nil {
			r.sigma[k] = math.Hypot(r.sigma[k], noise[k])
		}
	}
	for _, k := range g.read {
		if noise != nil && r.sigma[k] > 0 {
			r.floor += math.Pow(noise[k]/r.sigma[k], 2)
		}
	}
	return r
}

// candidate is a fitted model.
type candidate struct {
	family  string
	misfit  float64
	x       []float64           // the parameters
	patches func(*cell) []patch // nil of CellByCell
	near    *candidate          // of CellByCell the model that came nearest, nil where none was tried
}

// contact is the area that carries pressure, mm².
func (g *Grid) contact(patches func(*cell) []patch) float64 {
	area := 0.0
	for _, k := range g.inside {
		for _, q := range patches(&g.cells[k]) {
			area += q.contact()
		}
	}
	return area
}

// shape is the pressure that the model gives each cell.
func (c candidate) shape(g *Grid) [][]patch {
	patches := make([][]patch, len(g.cells))
	for _, k := range g.inside {
		patches[k] = c.patches(&g.cells[k])
	}
	return patches
}

// best fits the models, the simple ones first, and leaves off once there is
// nothing left worth explaining.
func (g *Grid) best(r readings) candidate {
	cells := len(g.read)
	best := candidate{misfit: math.Inf(1)}
	enough := func(c candidate) bool {
		if best.patches == nil || score(c.misfit, len(c.x), cells) < score(best.misfit, len(best.x), cells) {
			best = c
		}
		return best.misfit < g.plenty(r)
	}
	linear := g.fitBed(r, LinearBed, g.bedStart(r))
	if enough(linear) {
		return best
	}
	lines := g.cutStarts(r)
	if enough(g.fitCut(r, UniformCut, lines, 1)) ||
		enough(g.fitCut(r, SlopedCut, lines, 3)) ||
		enough(g.fitBed(r, PowerBed, append(linear.x, 1))) {
		return best
	}
	if !g.explained(best) {
		enough(g.fitDome(r))
	}
	return best
}

// plenty is a misfit so far below what gain leaves open (a tenth of it in each
// reading, over what noise leaves) that no other model need be tried.
func (g *Grid) plenty(r readings) float64 { return 1.5*r.floor + 0.01*float64(len(g.read)) }
