// Package advise lists what common practice in the trade would try next for a pattern in
// the measures, or for what an observer saw: options, each with the measures to watch. No
// published source exists for any of it. It is no diagnosis, and where the present
// measurements do not decide it names those that would. Its texts are in words.go.
package advise

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/correction"
)

// Observations are what a person sees and the measures do not contain.
type Observations struct {
	Bulging   bool // the foot bulges over the sides of the box
	LowCrown  bool // the box is low for the foot
	Sickles   bool // the foot rolls towards the little toe
	Sinks     bool // the foot goes down into the box
	HeelLoose bool
	Pain      bool // the dancer is in pain; there are no options then

	Stop string // advice to stop because of pain; "" for compare.Stop

	// Saw lists what was observed in the recordings of each shoe, by the shoe's code, in
	// the words of package correction.
	Saw map[string][]string
}

// in returns the observations in one shoe, given by its label.
func (o Observations) in(shoe string) Observations {
	code, _, _ := strings.Cut(shoe, "#")
	for _, sight := range o.Saw[code] {
		switch sight {
		case correction.Sickles:
			o.Sickles = true
		case correction.Sinks:
			o.Sinks = true
		case correction.BoxBulges:
			o.Bulging = true
		case correction.HeelLoose:
			o.HeelLoose = true
		}
	}
	return o
}

// Advice is what to try next, starting from one shoe. With pain it consists of one
// notice.
type Advice struct {
	Shoe     string          `json:"shoe"`
	Answer   string          `json:"answer,omitempty"` // set where there is nothing to change
	Notices  []string        `json:"notices"`          // about the advice as a whole
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
	Sign    string   `json:"-"`     // that the option helped, in words for a dancer; "" where there is none
	Score   int      `json:"score"` // evidence of the shoes measured so far, see scoreOption
	Because []string `json:"because,omitempty"`

	// Together names the other properties that changed in the shoes named in Because.
	// Their results are no evidence for the option.
	Together []string `json:"together,omitempty"`
}

// Next returns the advice for one shoe of a comparison, given by its label, with the
// options ranked by the shoes measured so far. Without a label it starts from a shoe that
// no other is better than: the preferred one or, without a preference, the one of these
// that is over the box on most feet. It returns an error for a comparison without relevés
// and for a shoe that is not in it; with pain it always advises to stop.
func Next(c *compare.Comparison, shoe string, seen Observations) (*Advice, error) {
	if seen.Pain {
		return &Advice{Shoe: shoe, Notices: []string{cmp.Or(seen.Stop, compare.Stop)}, Findings: []PatternAdvice{}, Provenance: c.Provenance}, nil
	}
	if len(c.Shoes) == 0 {
		return nil, errors.New("no relevé could be measured: there is nothing to go on")
	}
	a := &Advice{Shoe: shoe, Findings: []PatternAdvice{}, Notices: []string{}, Provenance: c.Provenance}
	best := inFirstPlace(c)
	if shoe == "" {
		a.Shoe = best[0]
	} else if !slices.Contains(best, shoe) {
		a.Notices = append(a.Notices, notFirst(shoe, best))
	}
	seen = seen.in(a.Shoe)
	sinks, decided := false, false
	for _, s := range c.Shoes {
		if s.Shoe != a.Shoe {
			continue
		}
		f := onFoot(c, s, seen)
		a.Findings = append(a.Findings, f)
		decided = decided || f.Pattern != Undecided
		if saw := sinking(s); saw != "" && f.Pattern != Undecided {
			sinks = true
			a.Findings = append(a.Findings, withPractice(c, s, PatternAdvice{Foot: &s.Foot, Conditions: s.Conditions, Pattern: Sinks, Saw: saw}, seen))
		}
	}
	if len(a.Findings) == 0 {
		return nil, fmt.Errorf("shoe %s: not in this comparison; there are %s", shoe, strings.Join(shoesOf(c), ", "))
	}
	a.Findings = append(a.Findings, bothFeet(c, a.Shoe)...)
	if decided { // otherwise measure more before changing anything
		a.Findings = append(a.Findings, bySight(c, a, seen, sinks)...)
	}
	fine := !slices.ContainsFunc(a.Findings, func(f PatternAdvice) bool { return f.Pattern != Fine })
	if fine {
		a.Answer = nothingToChange
	}
	a.Notices = append(a.Notices, notices(slices.ContainsFunc(a.Findings, func(f PatternAdvice) bool { return len(f.Options) > 0 }))...)
	return a, nil
}

// shoesOf returns the labels of the shoes of a comparison.
func shoesOf(c *compare.Comparison) (labels []string) {
	for _, s := range c.Shoes {
		if !slices.Contains(labels, s.Shoe) {
			labels = append(labels, s.Shoe)
		}
	}
	return labels
}

// inFirstPlace returns the labels of the shoes that no other is better than, the one that
// is over the box on most feet first.
func inFirstPlace(c *compare.Comparison) (labels []string) {
	switch {
	case c.Preferred != "":
		return []string{c.Preferred}
	case len(c.Ranking) == 0:
		labels = shoesOf(c)
	}
	for _, s := range c.Ranking {
		if s.Place == 1 {
			labels = append(labels, s.Shoe)
		}
	}
	order := shoesOf(c)
	over := func(label string) (n int) {
		for _, s := range c.Shoes {
			if s.Shoe == label && s.Verdict == measure.OverTheBox {
				n++
			}
		}
		return n
	}
	slices.SortFunc(labels, func(a, b string) int {
		return cmp.Or(over(b)-over(a), slices.Index(order, a)-slices.Index(order, b))
	})
	return labels
}

// onFoot returns the pattern of the load in one shoe on one foot.
func onFoot(c *compare.Comparison, s compare.ShoeFoot, seen Observations) PatternAdvice {
	f := PatternAdvice{Foot: &s.Foot, Conditions: s.Conditions}
	f.Pattern, f.Saw, f.Open = patternOf(s, seen)
	return withPractice(c, s, f, seen)
}

// withPractice adds the options for a pattern of one foot; of those for both feet, the
// ones that apply to shoe s.
func withPractice(c *compare.Comparison, s compare.ShoeFoot, f PatternAdvice, seen Observations) PatternAdvice {
	f.Options = []Option{}
	for _, o := range practice[f.Pattern] {
		one := scoreOption(c, s, o)
		one.Text, one.Watch, one.Sign = o.text(seen), o.watch(), o.sign()
		f.Options = append(f.Options, one)
	}
	// Options marked later come after the others, whatever their score.
	first := practice[f.Pattern].countFirst()
	byScore := func(a, b Option) int { return b.Score - a.Score }
	slices.SortStableFunc(f.Options[:first], byScore)
	slices.SortStableFunc(f.Options[first:], byScore)
	return f
}

// bothFeet returns the patterns of both feet in a shoe, one for each set of conditions.
func bothFeet(c *compare.Comparison, shoe string) (all []PatternAdvice) {
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
			all = append(all, f)
		}
	}
	return all
}

// bySight returns the patterns based on observation alone, which concern no single foot.
// sinks reports that the measures show sinking.
func bySight(c *compare.Comparison, a *Advice, seen Observations, sinks bool) (all []PatternAdvice) {
	has := func(p Pattern) bool {
		return slices.ContainsFunc(a.Findings, func(f PatternAdvice) bool { return f.Pattern == p })
	}
	s := c.Shoes[slices.IndexFunc(c.Shoes, func(s compare.ShoeFoot) bool { return s.Shoe == a.Shoe })]
	for _, one := range []struct {
		pattern Pattern
		seen    bool
	}{{Sinks, seen.Sinks && !sinks}, {Sickles, seen.Sickles}, {Bulges, seen.Bulging && !has(BehindBulging)}, {HeelLoose, seen.HeelLoose}} {
		if one.seen {
			all = append(all, withPractice(c, s, PatternAdvice{Pattern: one.pattern, Saw: sights[one.pattern]}, seen))
		}
	}
	return all
}

// betweenFeet returns the pattern of both feet in one shoe; ok is false where
// there is none.
func betweenFeet(left, right compare.ShoeFoot) (f PatternAdvice, ok bool) {
	saw, ok := oneSided(left, right)
	f = PatternAdvice{Conditions: left.Conditions, Pattern: OneFoot, Saw: saw, Options: []Option{}}
	for _, o := range practice[OneFoot] {
		f.Options = append(f.Options, Option{Text: o.text(Observations{}), Watch: o.watch(), Sign: o.sign()})
	}
	return f, ok
}
