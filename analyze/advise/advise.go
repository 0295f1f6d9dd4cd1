// Package advise offers what common practice in the trade would look at next
// when the numbers show a pattern: options to try, each with what to watch for
// in the numbers. There is no published source for any of it. It does not
// diagnose, and it says what it would take to know more where the numbers do not
// decide. What people read of it stands in words.go.
package advise

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/device"
)

// Seen is what the numbers cannot show and whoever stands by can.
type Observations struct {
	Bulging  bool // the foot bulges over the sides of the box
	LowCrown bool // the box is low for the foot
	Pain     bool // the dancer is in pain: then no option is offered
}

// Advice is what to look at next, starting from one shoe.
type Advice struct {
	Shoe     string          `json:"shoe"`
	Notices  []string        `json:"notices"` // what holds for all of it; where there is pain, that first
	Findings []PatternAdvice `json:"findings"`
}

// Finding is one pattern, on one foot or between both.
type PatternAdvice struct {
	Foot    *device.Foot `json:"foot,omitempty"` // absent where the pattern is one of both feet
	Support string       `json:"support,omitempty"`
	Rise    string       `json:"rise,omitempty"`
	Pattern Pattern      `json:"pattern"`
	Saw     string       `json:"saw"`            // the numbers that decided, in words
	Open    []string     `json:"open,omitempty"` // what they did not decide
	Options []Option     `json:"options"`        // the most promising first; none where nothing is advised
}

// Option is something to try or to look at.
type Option struct {
	Text    string   `json:"text"`
	Watch   string   `json:"watch"`
	Score   int      `json:"score"` // what the shoes tried so far add up to, see weigh
	Because []string `json:"because,omitempty"`
}

// Next looks at the pattern of one shoe of a comparison, by its label, and ranks
// the options by what the shoes tried have shown. Without a label it starts from
// the preferred shoe, or else the best placed, or else the first.
func Next(c *compare.Comparison, shoe string, seen Observations) (*Advice, error) {
	if len(c.Shoes) == 0 {
		return nil, errors.New("no relevé could be measured: there is nothing to go on")
	}
	if shoe == "" {
		shoe = startingShoe(c)
	}
	a := &Advice{Shoe: shoe, Findings: []PatternAdvice{}, Notices: notices(seen)}
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
			return s.Shoe == shoe && s.Foot == device.Right && s.Support == left.Support && s.Rise == left.Rise
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

func startingShoe(c *compare.Comparison) string {
	switch {
	case c.Preferred != "":
		return c.Preferred
	case len(c.Ranking) > 1 && c.Ranking[1].Place > 1:
		return c.Ranking[0].Shoe
	}
	return c.Shoes[0].Shoe
}

func onFoot(c *compare.Comparison, s compare.ShoeFoot, seen Observations) PatternAdvice {
	f := PatternAdvice{Foot: &s.Foot, Support: s.Support, Rise: s.Rise, Options: []Option{}}
	f.Pattern, f.Saw, f.Open = patternOf(s, seen)
	for _, o := range practice[f.Pattern] {
		score, because := scoreOption(c, s, o)
		f.Options = append(f.Options, Option{Text: o.text(seen), Watch: o.watch(), Score: score, Because: because})
	}
	// What has to come first comes first, whatever the shoes have shown.
	first := practice[f.Pattern].countFirst()
	byScore := func(a, b Option) int { return b.Score - a.Score }
	slices.SortStableFunc(f.Options[:first], byScore)
	slices.SortStableFunc(f.Options[first:], byScore)
	return f
}

func betweenFeet(left, right compare.ShoeFoot) (f PatternAdvice, ok bool) {
	saw, ok := oneSided(left, right)
	f = PatternAdvice{Support: left.Support, Rise: left.Rise, Pattern: OneFoot, Saw: saw, Options: []Option{}}
	for _, o := range practice[OneFoot] {
		f.Options = append(f.Options, Option{Text: o.text(Observations{}), Watch: o.watch()})
	}
	return f, ok
}
