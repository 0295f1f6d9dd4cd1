package study

import (
	"fmt"
	"math"

	"aplomb/analyze/measure"
)

// This file holds the texts of a study.

// Text describes a change.
func (c Change) Text() string {
	if c.Kind != DropOut {
		return c.What
	}
	name := func(code string) string {
		if code == "" {
			return "a dancer who was erased"
		}
		return "dancer " + code
	}
	return fmt.Sprintf("row %d: %s dropped out, %s takes the row", c.Row, name(c.From), name(c.To))
}

// KeyWasShown is the text of a change by which the key of the labels was shown.
const KeyWasShown = "which shoe each label is was shown"

// InterimLook returns the sentence that shoes were compared before the stopping rule was
// reached.
func (p *Progress) InterimLook() string {
	return fmt.Sprintf("shoes were compared with %d of %d dancers complete", p.Complete, p.Stop)
}

// Cause is the caption of a table of properties.
const Cause = "Shoes differ in many things at once: a slope says what went together in these shoes, and no cause."

// Rule returns the stopping rule in words.
func (s *Study) Rule() string {
	return fmt.Sprintf("The shoes are compared once %d of %d dancers have all recordings.", s.Stop, len(s.Rows))
}

// TooFew returns the sentence that no difference can be called clear with the declared
// number of dancers, and how many would be needed; "" where it can. The smallest p of the
// sign-flip test is 2/2ⁿ, and Holm's adjustment multiplies it by the number of pairs.
func (s *Study) TooFew() string {
	pairs := len(s.Shoes) * (len(s.Shoes) - 1) / 2
	least := func(n int) float64 { return math.Ldexp(2, -n) }
	if least(s.Stop)*float64(pairs) <= level {
		return ""
	}
	takes := s.Stop
	for least(takes)*float64(pairs) > level {
		takes++
	}
	return fmt.Sprintf("With %d dancers no difference can be called clear: the smallest p of %d pairs of shoes is %.2g, %.2g after Holm's adjustment. It takes %d dancers.",
		s.Stop, pairs, least(s.Stop), min(1, least(s.Stop)*float64(pairs)), takes)
}

// Decides returns the sentence about the primary measure.
func (s *Study) Decides() string {
	feet := "mean of both feet"
	for f, name := range [2]string{"left foot", "right foot"} {
		if s.Feet[f] && !s.Feet[1-f] {
			feet = name
		}
	}
	if s.Measure == measure.LoadShare {
		feet = "one number for both feet"
	}
	return fmt.Sprintf("Primary measure: %s, %s.", s.Measure, feet)
}
