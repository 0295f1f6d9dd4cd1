package compare

import (
	"math"
	"slices"

	"aplomb/analyze"
	"aplomb/analyze/budget"
	"aplomb/analyze/stats"
)

// sensor is what the strip itself does to the mean of a measure: what relevés
// have in common and their scatter therefore does not show. Noise and sway
// differ from one relevé to the next and are in the scatter.
type sensor struct {
	strip string        // "" where there are several
	gain  analyze.Draws // changes under imagined gains, of one strip always the same
	grid  float64       // standard uncertainty that the reconstruction leaves, cells filled included
	moved [4]float64    // the most, with its sign, that drift of the zeros, blur, hysteresis and creep add
}

// add takes in one of n relevés.
func (s *sensor) add(r *analyze.Measures, measure string, n float64) {
	if g := r.Gain[measure]; g != nil {
		if s.gain == nil {
			s.gain = make(analyze.Draws, len(g))
		}
		for k := range min(len(g), len(s.gain)) {
			s.gain[k] += g[k] / n
		}
	}
	s.grid += math.Hypot(r.Grid[measure], r.Fill[measure]) / n
	for i, most := range []map[string]float64{r.Zero, r.Blur, r.Hysteresis, r.Creep} {
		s.moved[i] += most[measure] / n
	}
}

// parts are the components of standard uncertainty.
func (s sensor) parts() []stats.Component {
	return append(s.even(), component(s.gain))
}

// even are the parts of a sensor whose cells are alike.
func (s sensor) even() []stats.Component {
	parts := []stats.Component{{U: s.grid, DOF: math.Inf(1)}}
	for _, most := range s.moved {
		parts = append(parts, stats.Component{U: budget.UniformWithin(most), DOF: math.Inf(1)})
	}
	return parts
}

// against is the sensor's part in a difference of two means. Under one strip
// the same gains act on both, and what they do alike cancels. How much of a
// bounded effect has come about is likewise taken to be alike in both. What the
// reconstruction leaves depends on the shape of the pressure and does not
// cancel, nor does anything of two strips.
func (s sensor) against(from sensor) (even, gains []stats.Component) {
	if s.strip == "" || s.strip != from.strip {
		return slices.Concat(s.even(), from.even()), []stats.Component{component(s.gain), component(from.gain)}
	}
	both := sensor{grid: math.Hypot(s.grid, from.grid)}
	for i := range both.moved {
		both.moved[i] = s.moved[i] - from.moved[i]
	}
	gain := make(analyze.Draws, max(len(s.gain), len(from.gain)))
	copy(gain, s.gain)
	for k, v := range from.gain {
		gain[k] -= v
	}
	return both.even(), []stats.Component{component(gain)}
}

func component(gain analyze.Draws) stats.Component {
	return stats.Component{U: gain.U(), DOF: gain.DOF()}
}
