package compare

import (
	"math"
	"slices"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// sensor is the uncertainty of a mean over relevés due to the strip: effects that
// the relevés have in common, which their scatter does not show. Effects that
// vary between relevés are part of the scatter.
type sensor struct {
	strip  string  // name of the strip; "" with several strips
	shape  float64 // standard uncertainty of effects that neither average out nor cancel
	draws  []drawn // effects of the strip that were drawn, in order of the sources
	bounds []bound // effects of the strip that were bounded, in order of the sources
}

// drawn has the change of the mean in each Monte Carlo draw of a source. The draws
// are the same for every recording of a strip.
type drawn struct {
	source  measure.Source
	changes []float64
}

// bound is the half-width of the rectangular distribution of an effect, with the
// sign of its change.
type bound struct {
	source    measure.Source
	halfWidth float64
}

// add adds the effects of one of n relevés.
func (s *sensor) add(h *measure.Hold, m measure.Measure, n float64) {
	shape := 0.0
	for i := range h.Effects {
		e := &h.Effects[i]
		switch {
		case e.Common == measure.OfShape, isBoundOfMounting(e):
			shape = math.Hypot(shape, e.U[m].U)
		case e.Common == measure.OfStrip:
			if changes := e.Draws[m]; changes != nil {
				s.addDraws(e.Source, changes, n)
			}
			if e.Distribution == measure.Rectangular {
				s.addBound(e.Source, e.Bound[m]/n)
			}
		}
	}
	s.shape += shape / n
}

// isBoundOfMounting reports whether an effect of a mounting is known by its bound alone,
// such as the load that a platform bears beyond the strip. It goes the same way in every
// mounting, so it does not average out over them.
func isBoundOfMounting(e *measure.Effect) bool {
	return e.Common == measure.OfMounting && e.Distribution == measure.Rectangular
}

// addDraws adds changes ÷ n, draw by draw, to the draws of a source.
func (s *sensor) addDraws(source measure.Source, changes []float64, n float64) {
	i := slices.IndexFunc(s.draws, func(d drawn) bool { return d.source == source })
	if i < 0 {
		i = len(s.draws)
		s.draws = append(s.draws, drawn{source, make([]float64, len(changes))})
	}
	d := &s.draws[i]
	for k := range min(len(changes), len(d.changes)) {
		d.changes[k] += changes[k] / n
	}
}

// addBound adds to the half-width of a source.
func (s *sensor) addBound(source measure.Source, halfWidth float64) {
	for i := range s.bounds {
		if s.bounds[i].source == source {
			s.bounds[i].halfWidth += halfWidth
			return
		}
	}
	s.bounds = append(s.bounds, bound{source, halfWidth})
}

// mountingU returns the standard uncertainty of a measure of a hold due to
// mounting the strip anew, with its degrees of freedom, and the standard deviations
// below and above the value, which differ where the distribution is not symmetric.
func mountingU(h *measure.Hold, m measure.Measure) (u, dof float64, sides [2]float64) {
	dof = math.Inf(1)
	for i := range h.Effects {
		e := &h.Effects[i]
		one, ok := e.U[m]
		if e.Common != measure.OfMounting || isBoundOfMounting(e) || !ok {
			continue
		}
		u, dof = math.Hypot(u, one.U), min(dof, float64(one.DOF))
		both, ok := e.Sides[m]
		if !ok {
			both = [2]float64{one.U, one.U}
		}
		sides[0], sides[1] = math.Hypot(sides[0], both[0]), math.Hypot(sides[1], both[1])
	}
	return u, dof, sides
}

// components returns the components of standard uncertainty.
func (s sensor) components() []stats.Component {
	return append(s.withoutGains(), s.gains())
}

// withoutGains returns every component except that of the gains of cells. Other
// sources with Monte Carlo draws are included.
func (s sensor) withoutGains() []stats.Component {
	parts := []stats.Component{{U: s.shape, DOF: math.Inf(1)}}
	for _, b := range s.bounds {
		parts = append(parts, stats.Component{U: budget.UniformWithin(b.halfWidth), DOF: math.Inf(1)})
	}
	for _, d := range s.draws {
		if d.source != measure.Gain {
			parts = append(parts, ofDraws(d.changes))
		}
	}
	return parts
}

// gains returns the component of the gains of cells; its U is 0 where no gains
// were drawn.
func (s sensor) gains() stats.Component {
	for _, d := range s.draws {
		if d.source == measure.Gain {
			return ofDraws(d.changes)
		}
	}
	return ofDraws(nil)
}

// differenceFrom returns the components of a difference of two means, s − from.
// Under one strip the same draws are made for both means, and their common effect
// cancels draw by draw; bounded effects cancel as well, since they are taken to have
// the same sign and relative size. Effects that depend on the shape of the pressure
// do not cancel, and nothing cancels between two strips.
func (s sensor) differenceFrom(from sensor) (others, gains []stats.Component) {
	if s.strip == "" || s.strip != from.strip {
		return slices.Concat(s.withoutGains(), from.withoutGains()), []stats.Component{s.gains(), from.gains()}
	}
	both := sensor{shape: math.Hypot(s.shape, from.shape), bounds: slices.Clone(s.bounds)}
	for _, b := range from.bounds {
		both.addBound(b.source, -b.halfWidth)
	}
	for _, d := range s.draws {
		both.addDraws(d.source, d.changes, 1)
	}
	for _, d := range from.draws {
		both.addDraws(d.source, d.changes, -1)
	}
	return both.withoutGains(), []stats.Component{both.gains()}
}

// ofDraws returns the component of Monte Carlo draws.
func ofDraws(changes []float64) stats.Component {
	u := budget.OfDraws(changes)
	return stats.Component{U: u.U, DOF: float64(u.DOF)}
}
