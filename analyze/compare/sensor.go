package compare

import (
	"math"
	"slices"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// sensor is what the strip itself does to the mean of a measure over relevés:
// what they have in common, so that their scatter does not show it. Effects that
// differ from one relevé to the next are in the scatter and not here.
type sensor struct {
	strip     string    // "" where there are several
	gainDraws []float64 // changes in Monte Carlo draws, the same draws for every recording of a strip
	shape     float64   // standard uncertainty that depends on the shape of the pressure
	bounds    []bound   // of other effects that a strip has in common, in the order of the sources
}

// bound is the half-width of an effect's rectangular distribution, with the sign
// of the change.
type bound struct {
	source    measure.Source
	halfWidth float64
}

// add takes in one of n relevés.
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

func (s *sensor) addDraws(draws []float64, n float64) {
	if s.gainDraws == nil {
		s.gainDraws = make([]float64, len(draws))
	}
	for k := range min(len(draws), len(s.gainDraws)) {
		s.gainDraws[k] += draws[k] / n
	}
}

func (s *sensor) addBound(source measure.Source, most float64) {
	for i := range s.bounds {
		if s.bounds[i].source == source {
			s.bounds[i].halfWidth += most
			return
		}
	}
	s.bounds = append(s.bounds, bound{source, most})
}

// seatOf is the standard uncertainty that a new mounting gives a measure of a hold.
func mountingU(h *measure.Hold, m measure.Measure) (u float64) {
	for i := range h.Effects {
		if e := &h.Effects[i]; e.Common == measure.OfMounting {
			u = math.Hypot(u, e.U[m].U)
		}
	}
	return u
}

// parts are the components of standard uncertainty.
func (s sensor) components() []stats.Component {
	return append(s.withoutGains(), ofDraws(s.gainDraws))
}

// even are the parts of a sensor whose cells are alike.
func (s sensor) withoutGains() []stats.Component {
	parts := []stats.Component{{U: s.shape, DOF: math.Inf(1)}}
	for _, b := range s.bounds {
		parts = append(parts, stats.Component{U: budget.UniformWithin(b.halfWidth), DOF: math.Inf(1)})
	}
	return parts
}

// against is the sensor's part in a difference of two means. Under one strip
// the same gains act on both, and what they do alike cancels. How much of a
// bounded effect has come about is likewise taken to be alike in both. What
// depends on the shape of the pressure does not cancel, nor does anything of two
// strips.
func (s sensor) differenceFrom(from sensor) (even, gains []stats.Component) {
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

func ofDraws(changes []float64) stats.Component {
	u := budget.OfDraws(changes)
	return stats.Component{U: u.U, DOF: float64(u.DOF)}
}
