package field

import (
	"math"
	"slices"
)

// explains is the largest misfit per degree of freedom at which a model counts
// as an explanation: readings off by twice what gain and noise leave open.
const maxMisfit = 4.0

// hopeless is the misfit per cell at which a model that came nearest for a
// similar map is not tried for this one.
const retryMisfit = 4 * maxMisfit

// leastGainSD is taken for the gains of a strip whose profile claims better.
const minGainSD = 0.02

// explain returns the shape of pressure within each cell and what it rests on;
// like is what explained a similar map, with no family where there is none. Where
// nothing explained that one, only the model that came nearest is tried again.
func (g *Grid) fitPressure(p, noise []float64, like fittedModel) ([][]patch, fittedModel) {
	r := g.expectedErrors(p, noise)
	if len(g.used) <= maxParams || r.peak == 0 {
		return g.cellByCell(r, noise), fittedModel{family: CellByCell}
	}
	var c fittedModel
	switch {
	case like.family != CellByCell:
		c = g.refit(r, like)
		if !g.fits(c) || c.misfit > 4*like.misfit+g.goodEnough(r) {
			c = g.bestModel(r)
		}
	case like.nearest == nil:
	case like.nearest.misfit > retryMisfit*float64(len(g.used)):
		c = *like.nearest
	default:
		c = g.refit(r, *like.nearest)
	}
	if c.patches == nil {
		return g.cellByCell(r, noise), fittedModel{family: CellByCell}
	}
	if g.fits(c) {
		return c.shape(g), c
	}
	return g.cellByCell(r, noise), fittedModel{family: CellByCell, nearest: &c}
}

// refit fits the model of like from its parameters.
func (g *Grid) refit(r readings, like fittedModel) fittedModel {
	x := slices.Clone(like.x)
	switch like.family {
	case LinearBed, PowerBed:
		return g.fitBed(r, like.family, x)
	case UniformCut, SlopedCut:
		return fittedModel{family: like.family, misfit: g.minimise(r, x, g.cutModel(r.peak), nil), x: x, patches: cutOf(r.peak, x).patches}
	case DomedBed:
		return fittedModel{family: like.family, misfit: g.minimise(r, x, g.domeModel(r.peak), nil), x: x, patches: dome(x).patches}
	}
	return fittedModel{misfit: math.Inf(1)}
}

// explained says whether the readings are within what gain and noise leave open.
func (g *Grid) fits(c fittedModel) bool {
	return c.misfit <= maxMisfit*float64(len(g.used)-len(c.x))
}

// expect puts the error to be expected to each reading: its noise, its gain, and
// a part of the largest for what no model gets right.
func (g *Grid) expectedErrors(p, noise []float64) readings {
	r := readings{p: p, sigma: make([]float64, len(p))}
	for _, k := range g.inside {
		r.peak = max(r.peak, p[k])
	}
	gain := max(minGainSD, g.strip.Calibration.GainSD)
	for k := range p {
		r.sigma[k] = math.Hypot(gain*p[k], 0.002*r.peak)
		if noise != nil {
			r.sigma[k] = math.Hypot(r.sigma[k], noise[k])
		}
	}
	for _, k := range g.used {
		if noise != nil && r.sigma[k] > 0 {
			r.floor += math.Pow(noise[k]/r.sigma[k], 2)
		}
	}
	return r
}

// candidate is a fitted model.
type fittedModel struct {
	family  string
	misfit  float64
	x       []float64           // the parameters
	patches func(*cell) []patch // nil of CellByCell
	nearest *fittedModel        // of CellByCell the model that came nearest, nil where none was tried
}

// contact is the area that carries pressure, mm².
func (g *Grid) contactArea(patches func(*cell) []patch) float64 {
	area := 0.0
	for _, k := range g.inside {
		for _, q := range patches(&g.cells[k]) {
			area += q.contact()
		}
	}
	return area
}

// shape is the pressure that the model gives each cell.
func (c fittedModel) shape(g *Grid) [][]patch {
	patches := make([][]patch, len(g.cells))
	for _, k := range g.inside {
		patches[k] = c.patches(&g.cells[k])
	}
	return patches
}

// best fits the models, the simple ones first, and leaves off once there is
// nothing left worth explaining.
func (g *Grid) bestModel(r readings) fittedModel {
	cells := len(g.used)
	best := fittedModel{misfit: math.Inf(1)}
	enough := func(c fittedModel) bool {
		if best.patches == nil || informationScore(c.misfit, len(c.x), cells) < informationScore(best.misfit, len(best.x), cells) {
			best = c
		}
		return best.misfit < g.goodEnough(r)
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
	if !g.fits(best) {
		enough(g.fitDome(r))
	}
	return best
}

// plenty is a misfit so far below what gain leaves open (a tenth of it in each
// reading, over what noise leaves) that no other model need be tried.
func (g *Grid) goodEnough(r readings) float64 { return 1.5*r.floor + 0.01*float64(len(g.used)) }
