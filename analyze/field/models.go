package field

import (
	"math"
	"slices"
)

// maxMisfit is the largest misfit per degree of freedom of a model that is
// accepted: residuals of twice the expected standard deviation.
const maxMisfit = 4.0

// retryMisfit is the misfit per cell above which the nearest model of a similar
// map is not fitted again.
const retryMisfit = 4 * maxMisfit

// minGainSD is the least relative standard deviation assumed for the gains of
// cells; a smaller one in a profile is replaced by it.
const minGainSD = 0.02

// fitPressure returns the pressure within each cell and the model behind it.
// previous is the model of a similar map, without a family where there is none.
// If no model fitted that map, only its nearest model is fitted again.
func (g *Grid) fitPressure(p, noise []float64, previous fittedModel) ([][]patch, fittedModel) {
	r := g.expectedErrors(p, noise)
	if len(g.used) <= maxParams || r.peak == 0 {
		return g.cellByCell(r, noise), fittedModel{family: CellByCell}
	}
	var c fittedModel
	switch {
	case previous.family != CellByCell:
		c = g.refit(r, previous)
		if !g.fits(c) || c.misfit > 4*previous.misfit+g.goodEnough(r) {
			c = g.bestModel(r)
		}
	case previous.nearest == nil:
	case previous.nearest.misfit > retryMisfit*float64(len(g.used)):
		c = *previous.nearest
	default:
		c = g.refit(r, *previous.nearest)
	}
	if c.patches == nil {
		return g.cellByCell(r, noise), fittedModel{family: CellByCell}
	}
	if g.fits(c) {
		return c.shape(g), c
	}
	return g.cellByCell(r, noise), fittedModel{family: CellByCell, nearest: &c}
}

// refit fits the family of a previous model, starting from its parameters.
func (g *Grid) refit(r readings, previous fittedModel) fittedModel {
	x := slices.Clone(previous.x)
	switch previous.family {
	case LinearBed, PowerBed:
		return g.fitBed(r, previous.family, x)
	case UniformCut, SlopedCut:
		return fittedModel{family: previous.family, misfit: g.minimise(r, x, g.cutModel(r.peak), nil), x: x, patches: cutOf(x).patches}
	case DomedBed:
		return fittedModel{family: previous.family, misfit: g.minimise(r, x, g.domeModel(r.peak), nil), x: x, patches: dome(x).patches}
	}
	return fittedModel{misfit: math.Inf(1)}
}

// fits reports whether the misfit of a model is within what gains and noise
// explain.
func (g *Grid) fits(c fittedModel) bool {
	return c.misfit <= maxMisfit*float64(len(g.used)-len(c.x))
}

// expectedErrors returns the readings with the standard deviation to be expected
// of each: noise, gain, and 0.2 % of the largest reading for errors of any model.
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

// fittedModel is a model of the pressure with fitted parameters.
type fittedModel struct {
	family  string
	misfit  float64             // Σ of squared residuals ÷ sigma²
	x       []float64           // the parameters
	patches func(*cell) []patch // pressure within a cell; nil for CellByCell
	nearest *fittedModel        // for CellByCell the rejected model with the best score; nil where none was tried
}

// contactArea returns the area that carries pressure, mm².
func (g *Grid) contactArea(patches func(*cell) []patch) float64 {
	area := 0.0
	for _, k := range g.inside {
		for _, q := range patches(&g.cells[k]) {
			area += q.contact()
		}
	}
	return area
}

// shape returns the pressure of the model within each cell.
func (c fittedModel) shape(g *Grid) [][]patch {
	patches := make([][]patch, len(g.cells))
	for _, k := range g.inside {
		patches[k] = c.patches(&g.cells[k])
	}
	return patches
}

// bestModel fits the models in order of complexity and returns the one with the
// best score. It stops at the first whose misfit is good enough.
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

// goodEnough returns the misfit below which no further model is fitted: one and a
// half times what noise alone leaves, and a tenth of the gain error in every
// reading.
func (g *Grid) goodEnough(r readings) float64 { return 1.5*r.floor + 0.01*float64(len(g.used)) }
