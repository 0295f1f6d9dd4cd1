// Package budget adds up the sources of uncertainty of a quantity according to JCGM
// 100:2008 (Guide to the expression of uncertainty in measurement). It does not depend on
// what is measured.
package budget

import (
	"math"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// UniformWithin returns the standard uncertainty of an effect that lies within ±half with
// uniform probability: half ÷ √3 (JCGM 100:2008, 4.3.7).
func UniformWithin(half float64) float64 { return math.Abs(half) / math.Sqrt(3) }

// OfDraws returns the standard uncertainty from changes in Monte Carlo draws, which is
// their root mean square about 0, with their number as degrees of freedom. Without draws
// it is 0 with unlimited degrees of freedom.
func OfDraws(changes []float64) measure.StandardUncertainty {
	u := 0.0
	for _, v := range changes {
		u = math.Hypot(u, v)
	}
	dof := measure.Unlimited
	if len(changes) > 0 {
		dof = measure.DOF(len(changes))
	}
	return measure.StandardUncertainty{U: u / math.Sqrt(float64(max(1, len(changes)))), DOF: dof}
}

// OfEffect returns the standard uncertainty that one source gives a measure.
func OfEffect(e *measure.Effect, m measure.Measure) measure.StandardUncertainty {
	if u, ok := e.U[m]; ok {
		return u
	}
	if draws, ok := e.Draws[m]; ok {
		return OfDraws(draws)
	}
	return measure.StandardUncertainty{U: UniformWithin(e.Bound[m]), DOF: measure.Unlimited}
}

// OfHold returns the budget of one measure of a hold with these effects.
func OfHold(effects []measure.Effect, m measure.Measure) measure.Budget {
	sources := make([]measure.Contribution, len(effects))
	for i := range effects {
		e := &effects[i]
		u := OfEffect(e, m)
		sources[i] = measure.Contribution{Source: e.Source, Type: e.Type, Distribution: e.Distribution, Basis: e.Basis, Evidence: e.Evidence, U: u.U, DOF: u.DOF}
	}
	return Of(sources...)
}

// Of combines sources of uncertainty: combined standard uncertainty, effective degrees of
// freedom (JCGM 100:2008, 5.1.2 and G.4.1), the half-width of the 95 % interval, and each
// source's share of the variance. It keeps a source whose U is 0, so that a reader sees
// that it was considered.
func Of(sources ...measure.Contribution) measure.Budget {
	parts := make([]stats.Component, len(sources))
	for i, s := range sources {
		parts[i] = stats.Component{U: s.U, DOF: float64(s.DOF)}
	}
	b := measure.Budget{Sources: slices.Clone(sources), U: stats.Combined(parts...), DOF: measure.DOF(stats.EffectiveDOF(parts...))}
	b.Expanded = stats.Interval95(0, b.U, float64(b.DOF)).Hi
	for i := range b.Sources {
		b.Sources[i].Share = 0
		if b.U > 0 {
			r := b.Sources[i].U / b.U
			b.Sources[i].Share = r * r
		}
	}
	return b
}

// Typical combines the budgets of similar measurements: for each source it takes the
// root mean square of the standard uncertainties over them, with the degrees of freedom of the first
// and every basis. All budgets have the same sources in the same order, and there
// is at least one.
func Typical(budgets []measure.Budget) measure.Budget {
	sources := slices.Clone(budgets[0].Sources)
	for i := range sources {
		sources[i].U = 0
		var bases []string
		for _, b := range budgets {
			s := b.Sources[i]
			sources[i].U = math.Hypot(sources[i].U, s.U/math.Sqrt(float64(len(budgets))))
			if !slices.Contains(bases, s.Basis) {
				bases = append(bases, s.Basis)
			}
		}
		sources[i].Basis = strings.Join(bases, "; ")
	}
	return Of(sources...)
}
