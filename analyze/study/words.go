package study

import (
	"fmt"
	"math"
	"strings"

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

// ComparedInFull is the text of a change by which the shoes were compared after the declared
// number of dancers, with codes and labels.
const ComparedInFull = "the shoes were compared, under codes and labels"

// AfterLook is the sentence on a comparison for which Study.ChangedAfterLook is true.
const AfterLook = "The plan was changed after shoes had been compared: nothing is called clear."

// EarlierThanDeclared returns the sentence about recordings from before the declaration; ""
// where there are none.
func EarlierThanDeclared(recordings int) string {
	if recordings == 0 {
		return ""
	}
	return fmt.Sprintf("Recordings from before the day of the declaration: %d. For them nothing shows that the plan came first.", recordings)
}

// InterimLook returns the sentence that shoes were compared before the stopping rule was
// reached.
func (p *Progress) InterimLook() string {
	return fmt.Sprintf("shoes were compared with %d of %d dancers complete", p.Complete, p.Stop)
}

// Cause is the caption of a table of properties.
const Cause = "Shoes differ in many things at once: a slope says what went together in these shoes, and no cause."

// Rule returns the stopping rule in words.
func (s *Study) Rule() string {
	if len(s.Rows) == 1 {
		return "The shoes are compared once the dancer has all recordings."
	}
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
	dancers, of := fmt.Sprintf("%d dancers", s.Stop), "of one pair of shoes"
	if s.Stop == 1 {
		dancers = "one dancer"
	}
	adjusted := ""
	if pairs > 1 {
		of = fmt.Sprintf("of %d pairs of shoes", pairs)
		adjusted = fmt.Sprintf(", %s after Holm's adjustment", pText(min(1, least(s.Stop)*float64(pairs))))
	}
	return fmt.Sprintf("With %s no difference can be called clear: the smallest p %s is %s%s. It takes %d dancers.", dancers, of, pText(least(s.Stop)), adjusted, takes)
}

// pText writes a p-value with three decimals, as the comparison does, without zeros at its
// end; one that would be 0 with two digits.
func pText(p float64) string {
	if p < 0.0005 {
		return fmt.Sprintf("%.2g", p)
	}
	return strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", p), "0"), ".")
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
