package fitting

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// Limits of rises suggested for a beginner, and the years on pointe up to which a dancer
// counts as one. Both are our own cautious assumptions, without a published source; none
// of it states that anybody is ready for pointe.
const (
	beginnerRises = 12
	beginnerYears = 2
)

// painSites are the sites of pain that can be chosen with one key.
var painSites = []ask.Option{
	{Key: "t", Label: "toes"}, {Key: "n", Label: "toenail"}, {Key: "j", Label: "big toe joint"}, {Key: "b", Label: "ball of the foot"}, {Key: "a", Label: "arch"},
	{Key: "h", Label: "heel"}, {Key: "c", Label: "Achilles tendon"}, {Key: "k", Label: "ankle"}, {Key: "s", Label: "shin or calf"}, {Key: "o", Label: "elsewhere"},
}

var painFeet = []ask.Option{{Key: "l", Label: "left"}, {Key: "r", Label: "right"}, {Key: "b", Label: "both"}}

var yesNo = []ask.Option{{Key: "y", Label: "yes"}, {Key: "n", Label: "no"}}

// levels are the levels of pain, 0 to 9; x is 10.
func levels() (options []ask.Option) {
	for i := range 10 {
		options = append(options, ask.Option{Key: strconv.Itoa(i), Label: strconv.Itoa(i)})
	}
	options[0].Label = "none"
	return append(options, ask.Option{Key: "x", Label: "10"})
}

// painNow asks for the pain at that moment.
func painNow() ask.Question {
	return ask.Question{Text: "Pain now, 0 (none) to 10:", Options: levels()}
}

// level parses the key of a level of pain.
func level(key string) *int {
	n := 10
	if key != "x" {
		n = int(key[0] - '0')
	}
	return &n
}

// before asks for everything needed before the first rise, unless it is already recorded
// with the visit.
func (f *Fitting) before(ctx context.Context) error {
	v := &f.visit
	if v.PainBefore == nil {
		if err := f.askPain(ctx); err != nil {
			return err
		}
	}
	if f.stops() {
		return ErrStopped
	}
	fresh := v.WarmUp == ""
	steps := []ask.Step{
		f.word("Hold on to:", &v.Support, fresh, []ask.Option{{Key: "b", Label: "barre"}, {Key: "h", Label: "hand of a spotter"}, {Key: "n", Label: "none"}}, map[string]string{"b": "barre", "h": "hand", "n": "none"}),
		f.word("How does the dancer rise?", &v.Rise, fresh, []ask.Option{{Key: "r", Label: "rolls up"}, {Key: "s", Label: "springs"}, {Key: "t", Label: "steps up"}}, map[string]string{"r": "roll-up", "s": "spring", "t": "step"}),
		{
			Question: func() (ask.Question, bool) {
				return ask.Question{Text: "Is the floor one that does not slip?", Options: yesNo}, fresh
			},
			Take: func(answer string) error {
				if answer == "n" {
					return errors.New("lay a mat or go to another floor first; rosin where the studio allows it")
				}
				v.Floor = cmp.Or(v.Floor, "does not slip")
				return nil
			},
		},
		{
			Question: func() (ask.Question, bool) {
				return ask.Question{Text: "Is the dancer warmed up?", Options: yesNo}, fresh
			},
			Take: func(answer string) error {
				v.WarmUp = map[string]string{"y": "yes", "n": "no"}[answer]
				if answer == "n" {
					f.Person.Tell("  A warm-up comes first: this is kept with the visit.")
				}
				return nil
			},
		},
		{
			Question: func() (ask.Question, bool) {
				return ask.Question{Text: "Body weight in kg (Enter for unknown):", Answer: text.Known(v.MassKG, "")}, fresh
			},
			Take: func(answer string) (err error) {
				v.MassKG = 0
				if answer != "" {
					v.MassKG, err = text.ParseNumber(strings.TrimSpace(strings.TrimSuffix(answer, "kg")))
				}
				if err == nil && !(v.MassKG >= 0 && v.MassKG <= 300) {
					err = fmt.Errorf("%v kg: up to 300", v.MassKG)
				}
				return err
			},
		},
		f.limitRises(fresh),
	}
	if err := ask.Series(ctx, f.Person, steps); err != nil {
		return err
	}
	return f.keep()
}

// word asks for one word of a condition.
func (f *Fitting) word(asks string, to *string, fresh bool, options []ask.Option, words map[string]string) ask.Step {
	return ask.Step{
		Question: func() (ask.Question, bool) {
			marked := slices.IndexFunc(options, func(o ask.Option) bool { return words[o.Key] == *to })
			return ask.Question{Text: asks, Options: options, Marked: max(0, marked)}, fresh
		},
		Take: func(answer string) error { *to = words[answer]; return nil },
	}
}

// limitRises asks for a limit of rises where the dancer is a beginner, and suggests a low
// one.
func (f *Fitting) limitRises(fresh bool) ask.Step {
	v := &f.visit
	return ask.Step{
		Question: func() (ask.Question, bool) {
			beginner := f.dancer.PointeYears != nil && *f.dancer.PointeYears < beginnerYears
			q := ask.Question{Text: "Most rises of this visit, a limit from teacher or clinician (- for none):", Answer: strconv.Itoa(beginnerRises)}
			q.Notes = []string{fmt.Sprintf("On pointe for less than %d years: %d is our own cautious suggestion.", beginnerYears, beginnerRises)}
			return q, fresh && beginner && v.MaxRises == 0
		},
		Take: func(answer string) (err error) {
			if answer != "" {
				v.MaxRises, err = text.ParseWhole(answer)
			}
			return err
		},
	}
}

// askPain asks for the pain before the first rise: how much, and where there is some.
func (f *Fitting) askPain(ctx context.Context) error {
	var foot, site string
	v := &f.visit
	has := func() bool { return v.PainBefore != nil && *v.PainBefore > 0 }
	err := ask.Series(ctx, f.Person, []ask.Step{
		{
			Question: func() (ask.Question, bool) {
				return painNow(), true
			},
			Take: func(answer string) error { v.PainBefore = level(answer); return nil },
		},
		{
			Question: func() (ask.Question, bool) { return ask.Question{Text: "On which foot?", Options: painFeet}, has() },
			Take:     func(answer string) error { foot = answer; return nil },
		},
		{
			Question: func() (ask.Question, bool) { return ask.Question{Text: "Where?", Options: painSites}, has() },
			Take:     func(answer string) error { site = answer; return nil },
		},
	})
	if err != nil {
		return err
	}
	v.PainWhere = nil
	for _, side := range device.Feet {
		if has() && (foot == "b" || foot == side.String()[:1]) {
			where := painSites[slices.IndexFunc(painSites, func(o ask.Option) bool { return o.Key == site })].Label
			v.PainWhere = append(v.PainWhere, logbook.Pain{Foot: side, Site: where, Level: *v.PainBefore})
		}
	}
	return f.keep()
}

// stops reports whether the pain of the visit is a reason to stop, and prints the advice.
func (f *Fitting) stops() bool {
	advice := f.visit.Advice()
	if advice != "" {
		f.Person.Tell(text.Wrap(advice))
	}
	return advice != ""
}
