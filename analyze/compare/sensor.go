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
	strip     string    // name of the strip; "" with several strips
	gainDraws []float64 // change of the mean in each Monte Carlo draw; the draws are the same for every recording of a strip
	shape     float64   // standard uncertainty of effects that depend on the shape of the pressure
	bounds    []bound   // of other effects that a strip has in common, in order of the sources
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
		switch e.Common {
		case measure.OfShape:
			shape = math.Hypot(shape, e.U[m].U)
		case measure.OfStrip:
			if draws := e.Draws[m]; draws != nil {
				s.addDraws(draws, n)
			}
			if e.Distribution == measure.Rectangular {
				s.addBound(e.Source, e.Bound[m]/n)
			}
		}
	}
	s.shape += shape / n
}

// addDraws adds the Monte Carlo draws of one of n relevés.
func (s *sensor) addDraws(draws []float64, n float64) {
	if s.gainDraws == nil {
		s.gainDraws = make([]float64, len(draws))
	}
	for k := range min(len(draws), len(s.gainDraws)) {
		s.gainDraws[k] += draws[k] / n
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
// mounting the strip anew.
func mountingU(h *measure.Hold, m measure.Measure) (u float64) {
	for i := range h.Effects {
		if e := &h.Effects[i]; e.Common == measure.OfMounting {
			u = math.Hypot(u, e.U[m].U)
		}
	}
	return u
}

// components returns the components of standard uncertainty.
func (s sensor) components() []stats.Component {
	return append(s.withoutGains(), ofDraws(s.gainDraws))
}

// withoutGains returns the components except that of the gains of cells.
func (s sensor) withoutGains() []stats.Component {
	parts := []stats.Component{{U: s.shape, DOF: math.Inf(1)}}
	for _, b := range s.bounds {
		parts = append(parts, stats.Component{U: budget.UniformWithin(b.halfWidth), DOF: math.Inf(1)})
	}
	return parts
}

// differenceFrom returns the components of a difference of two means. Under one
// strip the same gains act on both means, and their common effect cancels draw by
// draw; so do bounded effects, which are taken to have the same sign and relative
// size. Effects that depend on the shape of the pressure do not cancel, and
// nothing cancels between two strips.
func (s sensor) differenceFrom(from sensor) (others, gains []stats.Component) {
	if s.strip == "" || s.strip != from.strip {
		return slices.Concat(s.withoutGains(), from.withoutGains()), []stats.Component{ofDraws(s.gainDraws), ofDraws(from.gainDraws)}
	}
	both := sensor{shape: math.Hypot(s.shape, from.shape), bounds: slices.Clone(s.bounds)}
	for _, b := range from.bounds {
		both.addBound(b.source, -b.halfWidth)
	}
	gain := make([]float64, max(len(s.gainDraws), len(from.gainDraws)))
	copy(gain, s.gainDraws)
	for k, v := range from.gainDraws {
		gain[k] -= v
	}
	return both.withoutGains(), []stats.Component{ofDraws(gain)}
}

// ofDraws returns the component of Monte Carlo draws.
func ofDraws(changes []float64) stats.Component {
	u := budget.OfDraws(changes)
	return stats.Component{U: u.U, DOF: float64(u.DOF)}
}
