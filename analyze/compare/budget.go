package compare

import (
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/stats"
)

// Sources of the uncertainty of a mean over relevés, in the order of its budget. The
// budget of one relevé contains neither the scatter of relevés nor the mounting effect,
// which are differences between relevés and not errors of one of them.
const (
	ofReleves  measure.Source = "relevés"
	ofSeat     measure.Source = "seat"
	ofMounting measure.Source = "mounting effect"
	ofDay      measure.Source = "day effect"
	ofSensor   measure.Source = "sensor"
)

// budget returns the uncertainty budget of a mean as a statement about the shoe; nil
// where the mean has no interval, or for measures without budgets. s is the sample of the
// measure and sum its summary, whose uncertainty is the root sum of squares of the
// budget.
func (p *pool) budget(m measure.Measure, s sample, sum Summary) *measure.Budget {
	if sum.CI95 == nil || !slices.Contains(measure.Budgeted[:], m) {
		return nil
	}
	b := &measure.Budget{U: sum.U, DOF: measure.Unlimited}
	if sum.DOF != nil {
		b.DOF = measure.DOF(*sum.DOF)
	}
	b.Expanded = stats.Interval95(0, b.U, float64(b.DOF)).Hi
	add := func(source measure.Source, t measure.Type, one stats.Component, basis string) {
		share := 0.0
		if b.U > 0 {
			share = math.Pow(one.U/b.U, 2)
		}
		b.Sources = append(b.Sources, measure.Contribution{
			Source: source, Type: t, Distribution: measure.Normal, U: one.U, DOF: measure.DOF(one.DOF), Share: share, Basis: basis,
		})
	}
	add(ofReleves, measure.TypeA, s.dancer(), fmt.Sprintf("standard deviation of %d relevés in %s", s.n, mountingsText(len(s.groups))))
	add(ofSeat, measure.TypeB, s.seat(), "as in the budgets of the relevés")
	add(ofMounting, typeOf(p.effects[m]), componentOf(s.effect.Times(1/s.mountings)), "mountings differ beyond relevés and seat, "+originText(p.effects[m]))
	if s.days.Variance > 0 {
		add(ofDay, typeOf(p.days[m]), componentOf(s.days.Times(1/s.visits)), "visits differ beyond their mountings, "+originText(p.days[m]))
	}
	sensor := s.sensor.Components()
	add(ofSensor, measure.TypeB, stats.Component{U: stats.Combined(sensor...), DOF: stats.EffectiveDOF(sensor...)},
		"errors common to all relevés: gains, zeros, reconstruction, outline")
	return b
}

// componentOf returns the share of an effect as a component. A component of 0 has
// unlimited degrees of freedom.
func componentOf(s mounting.Share) stats.Component {
	if s.Variance == 0 {
		return stats.Component{DOF: math.Inf(1)}
	}
	return s.With(stats.Component{})
}

// typeOf returns the type of evaluation of an effect: B where it contains an assumption.
func typeOf(e mounting.Effect) measure.Type {
	if e.From == mounting.Assumed {
		return measure.TypeB
	}
	return measure.TypeA
}

// originText returns what an effect is estimated from, with its degrees of freedom.
func originText(e mounting.Effect) string {
	from := map[mounting.Origin]string{
		mounting.OfDancer:  "from this dancer's mountings",
		mounting.OfLogbook: "from the mountings in the logbook",
		mounting.Assumed:   "our assumption with this dancer's mountings",
	}[e.From]
	if e.From == mounting.Assumed && e.DOF == mounting.AssumedDOF {
		from = "our assumption"
	}
	return fmt.Sprintf("%s (%.0f degrees of freedom)", from, e.DOF)
}

// mountingsText returns "1 mounting" or "n mountings".
func mountingsText(n int) string {
	if n == 1 {
		return "1 mounting"
	}
	return fmt.Sprintf("%d mountings", n)
}
