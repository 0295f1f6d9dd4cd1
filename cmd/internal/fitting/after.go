package fitting

import (
	"context"
	"errors"
	"strconv"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/ask"
	"aplomb/device"
)

// after asks for the fitter's choice and the pain after the last rise, and prints the
// answer.
func (f *Fitting) after(ctx context.Context) error {
	if f.Study != nil {
		return f.afterStudy(ctx)
	}
	if f.Prepare != nil {
		f.Prepare(ctx, f.visit)
	}
	for {
		err := f.conclude(ctx)
		if !errors.Is(err, ask.ErrBack) {
			return err
		}
	}
}

// conclude asks the last questions and prints the answer.
func (f *Fitting) conclude(ctx context.Context) error {
	v := &f.visit
	c, _, err := f.progress()
	if err != nil && !errors.Is(err, logbook.ErrNotFound) {
		return err
	}
	options := []ask.Option{{Key: "n", Label: "none yet"}}
	chosen := 0
	for i, code := range c.Plan.Shoes {
		options = append(options, ask.Option{Key: strconv.Itoa(i + 1), Label: "shoe " + code})
		if code == v.Choice {
			chosen = i + 1
		}
	}
	err = ask.Series(ctx, f.Person, []ask.Step{
		{
			Question: func() (ask.Question, bool) {
				return ask.Question{Text: "Which shoe do you choose?", Options: options, Marked: chosen}, true
			},
			Take: func(a string) error {
				v.Choice = ""
				if a != "n" {
					v.Choice = c.Plan.Shoes[a[0]-'1']
				}
				return nil
			},
		},
		{
			Question: func() (ask.Question, bool) { return ask.Question{Text: "Why?", Answer: v.ChoiceWhy}, v.Choice != "" },
			Take:     func(a string) error { v.ChoiceWhy = a; return device.CheckLength(a) },
		},
		{
			Question: func() (ask.Question, bool) {
				return ask.Question{Text: "Pain after, 0 (none) to 10:", Options: levels()}, true
			},
			Take: func(a string) error { v.PainAfter = level(a); return nil },
		},
	})
	if err != nil {
		return err
	}
	if err := f.keep(); err != nil {
		return err
	}
	if f.stops() {
		return ErrStopped
	}
	return f.Answer(ctx, f.visit)
}
