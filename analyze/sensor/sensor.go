// Package sensor adds up the contributions of a strip to the uncertainty of a mean over
// relevés, and of a difference of two means: errors that the relevés have in common, so
// that they are not part of their scatter. Errors that vary between relevés are part of
// the scatter.
//
// Comparisons of shoes and follow-ups over visits both use it, so that the same change
// under one strip has the same uncertainty in both.
package sensor

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// Part is the contribution of a strip to the value of a measure in one relevé, in the
// unit of the measure.
type Part struct {
	shape  float64 // standard uncertainty of effects that neither average out nor cancel
	draws  []drawn // effects of the strip with Monte Carlo draws, in order of the sources
	bounds []bound // effects of the strip with bounds, in order of the sources
}

// drawn holds the change of a value in each Monte Carlo draw of a source. The draws are
// the same for every recording of a strip.
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

// Of returns the contribution of the strip to a measure of a hold.
func Of(h *measure.Hold, m measure.Measure) (p Part) {
	for i := range h.Effects {
		e := &h.Effects[i]
		switch {
		case e.Common == measure.OfShape, mounting.IsBound(e):
			p.shape = math.Hypot(p.shape, e.U[m].U)
		case e.Common == measure.OfStrip:
			if changes := e.Draws[m]; changes != nil {
				p.draws = append(p.draws, drawn{e.Source, changes})
			}
			if e.Distribution == measure.Rectangular {
				p.bounds = append(p.bounds, bound{e.Source, e.Bound[m]})
			}
		}
	}
	return p
}

// kept is the JSON form of a part.
type kept struct {
	Shape  float64     `json:"shape,omitempty"`
	Draws  []keptDraw  `json:"draws,omitempty"`
	Bounds []keptBound `json:"bounds,omitempty"`
}

type keptDraw struct {
	Source  measure.Source `json:"source"`
	Changes []float64      `json:"changes"`
}

type keptBound struct {
	Source    measure.Source `json:"source"`
	HalfWidth float64        `json:"half_width"`
}

// MarshalJSON implements json.Marshaler. Numbers have 6 significant digits.
func (p Part) MarshalJSON() ([]byte, error) {
	k := kept{Shape: rounded(p.shape)}
	for _, d := range p.draws {
		one := keptDraw{Source: d.source}
		for _, c := range d.changes {
			one.Changes = append(one.Changes, rounded(c))
		}
		k.Draws = append(k.Draws, one)
	}
	for _, b := range p.bounds {
		k.Bounds = append(k.Bounds, keptBound{b.source, rounded(b.halfWidth)})
	}
	return json.Marshal(k)
}

// UnmarshalJSON implements json.Unmarshaler.
func (p *Part) UnmarshalJSON(data []byte) error {
	var k kept
	if err := json.Unmarshal(data, &k); err != nil {
		return err
	}
	*p = Part{shape: k.Shape}
	for _, d := range k.Draws {
		p.draws = append(p.draws, drawn{d.Source, d.Changes})
	}
	for _, b := range k.Bounds {
		p.bounds = append(p.bounds, bound{b.Source, b.HalfWidth})
	}
	return nil
}

// rounded returns x to 6 significant digits.
func rounded(x float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64)
	return r
}

// Whole returns the part of a value of which only a standard uncertainty is known. It
// does not cancel in any difference.
func Whole(u float64) Part { return Part{shape: u} }

// Mean is the contribution of a strip to a mean over relevés. The zero value is that of
// an unknown strip, or of several strips, without relevés.
type Mean struct {
	strip string // see Content; "" where nothing cancels
	part  Part
}

// NewMean returns a mean without relevés for strips with these contents. Common effects
// cancel between means of one and the same strip; between other means, and where a mean
// is of several strips, nothing cancels.
func NewMean(contents ...string) Mean {
	if len(contents) != 1 {
		return Mean{}
	}
	return Mean{strip: contents[0]}
}

// Content identifies a strip by its name and calibration: with another calibration the
// errors of its cells differ.
func Content(s *device.Strip) string { return s.Name + " " + s.Calibration.Sum(s) }

// Add adds one of n relevés.
func (s *Mean) Add(p Part, n float64) {
	s.part.shape += p.shape / n
	for _, d := range p.draws {
		s.part.addDraws(d.source, d.changes, n)
	}
	for _, b := range p.bounds {
		s.part.addBound(b.source, b.halfWidth/n)
	}
}

// addDraws adds changes ÷ n, draw by draw, to the draws of a source.
func (s *Part) addDraws(source measure.Source, changes []float64, n float64) {
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
func (s *Part) addBound(source measure.Source, halfWidth float64) {
	for i := range s.bounds {
		if s.bounds[i].source == source {
			s.bounds[i].halfWidth += halfWidth
			return
		}
	}
	s.bounds = append(s.bounds, bound{source, halfWidth})
}

// Components returns the components of standard uncertainty.
func (s Mean) Components() []stats.Component {
	return append(s.part.withoutGains(), s.part.gains())
}

// withoutGains returns every component except that of the gains of cells. Other
// sources with Monte Carlo draws are included.
func (s Part) withoutGains() []stats.Component {
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
func (s Part) gains() stats.Component {
	for _, d := range s.draws {
		if d.source == measure.Gain {
			return ofDraws(d.changes)
		}
	}
	return ofDraws(nil)
}

// DifferenceFrom returns the components of a difference of two means, s − from, with
// those of the gains of cells separately. Under one strip the same draws are made for
// both means, and their common effect cancels draw by draw; bounded effects cancel as
// well, since they are assumed to have the same sign and relative size. Effects that
// depend on the shape of the pressure do not cancel, and nothing cancels between two
// strips.
func (s Mean) DifferenceFrom(from Mean) (others, gains []stats.Component) {
	a, b := s.part, from.part
	if s.strip == "" || s.strip != from.strip {
		return slices.Concat(a.withoutGains(), b.withoutGains()), []stats.Component{a.gains(), b.gains()}
	}
	both := Part{shape: math.Hypot(a.shape, b.shape), bounds: slices.Clone(a.bounds)}
	for _, one := range b.bounds {
		both.addBound(one.source, -one.halfWidth)
	}
	for _, one := range a.draws {
		both.addDraws(one.source, one.changes, 1)
	}
	for _, one := range b.draws {
		both.addDraws(one.source, one.changes, -1)
	}
	return both.withoutGains(), []stats.Component{both.gains()}
}

// ofDraws returns the component of Monte Carlo draws.
func ofDraws(changes []float64) stats.Component {
	u := budget.OfDraws(changes)
	return stats.Component{U: u.U, DOF: float64(u.DOF)}
}
