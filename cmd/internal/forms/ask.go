package forms

import (
	"errors"
	"fmt"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// question is one question about a shoe.
type question struct {
	asks  string
	field string                            // name of the field that the answer sets; not asked where a flag set it
	words []string                          // answers, of which the beginning is enough; nil where others are taken
	is    func(*logbook.Shoe) string        // the present value in the shoe, "" for none
	set   func(*logbook.Shoe, string) error // nil for the field's Set; otherwise an answer is required
}

// questions returns the questions about a shoe in the order in which they are asked.
func (f *Shoe) questions() []question {
	side := func(asks string, k int) question {
		return question{
			asks: asks,
			is:   func(s *logbook.Shoe) string { return f.Unit.Length(s.PlatformMM[k]) },
			set: func(s *logbook.Shoe, v string) (err error) {
				s.PlatformMM[k], err = device.ParseLength(v, string(f.Unit))
				return err
			},
		}
	}
	word := func(asks, field string, words []string, of func(*logbook.Shoe) *string) question {
		return question{asks: asks + " (" + strings.Join(words, ", ") + ")", field: field, words: words, is: func(s *logbook.Shoe) string { return *of(s) }}
	}
	length := func(asks, field string, of func(*logbook.Shoe) float64) question {
		return question{asks: asks, field: field, is: func(s *logbook.Shoe) string { return f.Unit.Length(of(s)) }}
	}
	return []question{
		side("platform, width", 0),
		side("platform, depth", 1),
		{asks: "shape (" + text.ShapeHelp + ")", field: "shape", words: text.ShapeNames(), is: func(s *logbook.Shoe) string { return text.Shape(&s.Shoe) }},
		word("box", "box", device.Boxes[:], func(s *logbook.Shoe) *string { return &s.Box }),
		length("crown, the height of the profile", "crown", func(s *logbook.Shoe) float64 { return s.CrownMM }),
		word("shank", "shank", device.Shanks[:], func(s *logbook.Shoe) *string { return &s.Shank }),
		word("shank, length", "shank-length", device.ShankLengths[:], func(s *logbook.Shoe) *string { return &s.ShankLength }),
		{asks: "padding", field: "padding", is: func(s *logbook.Shoe) string { return s.Padding }},
		length("vamp, from the front of the platform to the throat", "vamp", func(s *logbook.Shoe) float64 { return s.VampMM }),
		length("wings, from the platform to their top", "wings", func(s *logbook.Shoe) float64 { return s.WingsMM }),
		{asks: "hours worn", field: "hours", is: func(s *logbook.Shoe) string { return text.Known(s.HoursWorn, "") }},
	}
}

// Ask asks the person what a shoe is like, draws it, and asks again until the person
// says that it is right. What was typed by flags is not asked.
func (f *Shoe) Ask(a *console.Person, s *logbook.Shoe) error {
	fmt.Fprintf(a.Out, "Shoe %s. Lengths are in %s unless a unit follows them.\nEnter skips a question, or keeps what stands in [].\n", s.Code, f.Unit)
	for {
		for _, q := range f.questions() {
			if q.field != "" && f.Has(q.field) {
				continue
			}
			if err := f.askOne(a, q, s); err != nil {
				return err
			}
		}
		fmt.Fprintln(a.Out)
		output.Shoe(a.Out, s, f.Unit)
		output.Doubt(a.Out, s)
		right := false
		err := a.AskUntil("Is this right? [Y/n]", func(answer string) error {
			switch strings.ToLower(answer) {
			case "", "y", "yes":
				right = true
			case "n", "no":
				fmt.Fprintln(a.Out, "Once more, then. - takes back what stands in [].")
			default:
				return errors.New("y or n")
			}
			return nil
		})
		if err != nil || right {
			return err
		}
	}
}

// askOne asks one question until the answer is possible for a shoe.
func (f *Shoe) askOne(a *console.Person, q question, s *logbook.Shoe) error {
	needed, set := q.set != nil, q.set
	if set == nil {
		set = f.set(q.field)
	}
	prompt := q.asks
	if standing := q.is(s); standing != "" {
		prompt += " [" + standing + "]"
	}
	return a.AskUntil(prompt+":", func(answer string) error {
		next := *s
		var err error
		switch {
		case answer == "" && needed && q.is(s) == "":
			return errors.New("this one is needed")
		case answer == "":
			return nil
		case answer == "-" && !needed:
			err = set(&next, "")
		case len(q.words) > 0:
			err = set(&next, complete(q.words, answer))
		default:
			err = set(&next, answer)
		}
		if err == nil && needed && q.is(&next) == "" {
			err = errors.New("above 0")
		}
		if err == nil {
			err = check(next)
		}
		if err == nil {
			*s = next
		}
		return err
	})
}

// check returns an error where a value is not possible for a shoe. Part of the
// platform may still be unknown.
func check(s logbook.Shoe) error {
	for k, mm := range s.PlatformMM {
		if mm == 0 {
			s.PlatformMM[k] = 20 // any possible value
		}
	}
	err := s.Check()
	if impossible := (*device.FieldError)(nil); errors.As(err, &impossible) {
		return errors.New(impossible.Reason)
	}
	return err
}

// complete returns the one word that begins with what was typed, or what was typed
// where none or several do.
func complete(words []string, typed string) string {
	var found []string
	for _, w := range words {
		if strings.HasPrefix(w, strings.ToLower(typed)) {
			found = append(found, w)
		}
	}
	if len(found) != 1 {
		return typed
	}
	return found[0]
}
