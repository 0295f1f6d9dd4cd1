// Package advise lists what common practice in the trade would try next for a
// pattern in the measures: options, each with the measures to watch. No published
// source exists for any of it. It is no diagnosis, and it says which measurements
// would decide where the present ones do not. Its texts are in words.go.
package advise

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// Observations are what a person sees and the measures do not show.
type Observations struct {
	Bulging  bool // the foot bulges over the sides of the box
	LowCrown bool // the box is low for the foot
	Pain     bool // the dancer is in pain; then no option is offered
}

// Advice is what to try next, starting from one shoe.
type Advice struct {
	Shoe     string          `json:"shoe"`
	Notices  []string        `json:"notices"` // about the advice as a whole; pain comes first
	Findings []PatternAdvice `json:"findings"`

	Provenance *measure.Provenance `json:"provenance,omitempty"` // of the comparison
}

// PatternAdvice is one pattern, of one foot or of both, with its options.
type PatternAdvice struct {
	Foot *device.Foot `json:"foot,omitempty"` // absent for a pattern of both feet
	measure.Conditions
	Pattern Pattern  `json:"pattern"`
	Saw     string   `json:"saw"`            // the measures that decided, as text
	Open    []string `json:"open,omitempty"` // what the measures did not decide
	Options []Option `json:"options"`        // in order of score; empty where nothing is advised
}

// Option is something to try or to examine.
type Option struct {
	Text    string   `json:"text"`
	Watch   string   `json:"watch"`
	Score   int      `json:"score"` // evidence of the shoes measured so far, see scoreOption
	Because []string `json:"because,omitempty"`
}

// Next returns the advice for one shoe of a comparison, given by its label, with
// the options ranked by the shoes measured so far. Without a label it starts from
// the preferred shoe, or else the first in the ranking, or else the first shoe.
// It returns an error for a comparison without relevés and for a shoe that is not
// in it.
func Next(c *compare.Comparison, shoe string, seen Observations) (*Advice, error) {
	if len(c.Shoes) == 0 {
		return nil, errors.New("no relevé could be measured: there is nothing to go on")
	}
	if shoe == "" {
		shoe = startingShoe(c)
	}
	a := &Advice{Shoe: shoe, Findings: []PatternAdvice{}, Notices: notices(seen), Provenance: c.Provenance}
	for _, s := range c.Shoes {
		if s.Shoe == shoe {
			a.Findings = append(a.Findings, onFoot(c, s, seen))
		}
	}
	if len(a.Findings) == 0 {
		var tried []string
		for _, s := range c.Shoes {
			if !slices.Contains(tried, s.Shoe) {
				tried = append(tried, s.Shoe)
			}
		}
		return nil, fmt.Errorf("shoe %s: not in this comparison; there are %s", shoe, strings.Join(tried, ", "))
	}
	for _, left := range c.Shoes {
		if left.Shoe != shoe || left.Foot != device.Left {
			continue
		}
		i := slices.IndexFunc(c.Shoes, func(s compare.ShoeFoot) bool {
			return s.Shoe == shoe && s.Foot == device.Right && s.Conditions == left.Conditions
		})
		if i < 0 {
			continue
		}
		if f, ok := betweenFeet(left, c.Shoes[i]); ok {
			a.Findings = append(a.Findings, f)
		}
	}
	if seen.Pain {
		for i := range a.Findings {
			a.Findings[i].Options = []Option{}
		}
	}
	return a, nil
}

// startingShoe returns the label of the shoe to start from.
func startingShoe(c *compare.Comparison) string {
	switch {
	case c.Preferred != "":
		return c.Preferred
	case len(c.Ranking) > 1 && c.Ranking[1].Place > 1:
		return c.Ranking[0].Shoe
	}
	return c.Shoes[0].Shoe
}

// onFoot returns the pattern of one shoe on one foot.
func onFoot(c *compare.Comparison, s compare.ShoeFoot, seen Observations) PatternAdvice {
	f := PatternAdvice{Foot: &s.Foot, Conditions: s.Conditions, Options: []Option{}}
	f.Pattern, f.Saw, f.Open = patternOf(s, seen)
	for _, o := range practice[f.Pattern] {
		score, because := scoreOption(c, s, o)
		f.Options = append(f.Options, Option{Text: o.text(seen), Watch: o.watch(), Score: score, Because: because})
	}
	// Options for later stay behind the others, whatever their score.
	first := practice[f.Pattern].countFirst()
	byScore := func(a, b Option) int { return b.Score - a.Score }
	slices.SortStableFunc(f.Options[:first], byScore)
	slices.SortStableFunc(f.Options[first:], byScore)
	return f
}

// betweenFeet returns the pattern of both feet in one shoe; ok is false where
// there is none.
func betweenFeet(left, right compare.ShoeFoot) (f PatternAdvice, ok bool) {
	saw, ok := oneSided(left, right)
	f = PatternAdvice{Conditions: left.Conditions, Pattern: OneFoot, Saw: saw, Options: []Option{}}
	for _, o := range practice[OneFoot] {
		f.Options = append(f.Options, Option{Text: o.text(Observations{}), Watch: o.watch()})
	}
	return f, ok
}
