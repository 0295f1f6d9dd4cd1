package main

import (
	"errors"
	"fmt"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/device"
)

// shoeQuestion is one thing that shoe add asks.
type shoeQuestion struct {
	asks  string
	flag  string   // it answers to this flag's settings, and is not asked where that was typed
	words []string // taken by how they begin
	is    func(*logbook.Shoe) string
	set   func(*logbook.Shoe, string) error // nil: as the flag does
}

func (f *shoeFlags) questions() []shoeQuestion {
	side := func(asks string, k int) shoeQuestion {
		return shoeQuestion{
			asks: asks,
			is:   func(s *logbook.Shoe) string { return f.unit.length(s.PlatformMM[k]) },
			set: func(s *logbook.Shoe, v string) (err error) {
				s.PlatformMM[k], err = device.ParseLength(v, string(f.unit))
				return err
			},
		}
	}
	word := func(asks, flag string, words []string, of func(*logbook.Shoe) *string) shoeQuestion {
		return shoeQuestion{asks: asks + " (" + strings.Join(words, ", ") + ")", flag: flag, words: words, is: func(s *logbook.Shoe) string { return *of(s) }}
	}
	length := func(asks, flag string, of func(*logbook.Shoe) float64) shoeQuestion {
		return shoeQuestion{asks: asks, flag: flag, is: func(s *logbook.Shoe) string { return f.unit.length(of(s)) }}
	}
	return []shoeQuestion{
		side("platform, width", 0),
		side("platform, depth", 1),
		{asks: "shape (" + shapeWords + ")", flag: "shape", words: wordsOf(shapes), is: func(s *logbook.Shoe) string { return shapeOf(&s.Shoe) }},
		word("box", "box", device.Boxes[:], func(s *logbook.Shoe) *string { return &s.Box }),
		length("crown, the height of the profile", "crown", func(s *logbook.Shoe) float64 { return s.CrownMM }),
		word("shank", "shank", device.Shanks[:], func(s *logbook.Shoe) *string { return &s.Shank }),
		word("shank, length", "shank-length", device.ShankLengths[:], func(s *logbook.Shoe) *string { return &s.ShankLength }),
		{asks: "padding", flag: "padding", is: func(s *logbook.Shoe) string { return s.Padding }},
		length("vamp, from the front of the platform to the throat", "vamp", func(s *logbook.Shoe) float64 { return s.VampMM }),
		length("wings, from the platform to their top", "wings", func(s *logbook.Shoe) float64 { return s.WingsMM }),
		{asks: "hours worn", flag: "hours", is: func(s *logbook.Shoe) string { return known(s.HoursWorn, "") }},
	}
}

// ask asks what the shoe is like until it is said to be right.
func (f *shoeFlags) ask(a *asker, s *logbook.Shoe) error {
	fmt.Fprintf(a.to, "Shoe %s. Lengths are in %s unless a unit follows them.\nEnter skips a question, or keeps what stands in [].\n", s.Code, f.unit)
	for {
		for _, q := range f.questions() {
			if q.flag != "" && f.has(q.flag) {
				continue
			}
			if err := f.put(a, q, s); err != nil {
				return err
			}
		}
		fmt.Fprintln(a.to)
		printShoe(a.to, s, f.unit)
		printDoubt(a.to, s)
		right := false
		err := a.until("Is this right? [Y/n]", func(answer string) error {
			switch strings.ToLower(answer) {
			case "", "y", "yes":
				right = true
			case "n", "no":
				fmt.Fprintln(a.to, "Once more, then. - takes back what stands in [].")
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

// put asks one question until its answer can be true of a shoe.
func (f *shoeFlags) put(a *asker, q shoeQuestion, s *logbook.Shoe) error {
	needed, set := q.set != nil, q.set
	if set == nil {
		set = f.set[q.flag]
	}
	prompt := q.asks
	if standing := q.is(s); standing != "" {
		prompt += " [" + standing + "]"
	}
	return a.until(prompt+":", func(answer string) error {
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
			err = set(&next, begun(q.words, answer))
		default:
			err = set(&next, answer)
		}
		if err == nil && needed && q.is(&next) == "" {
			err = errors.New("above 0")
		}
		if err == nil {
			err = possible(next)
		}
		if err == nil {
			*s = next
		}
		return err
	})
}

// possible reports what cannot be so, of a shoe whose platform may be known in part.
func possible(s logbook.Shoe) error {
	for k, mm := range s.PlatformMM {
		if mm == 0 {
			s.PlatformMM[k] = 20 // as good as any
		}
	}
	err := s.Check()
	if impossible := (*device.FieldError)(nil); errors.As(err, &impossible) {
		return errors.New(impossible.Reason)
	}
	return err
}

// begun returns the one of some words that begins with what was typed; that
// itself where none or several do.
func begun(words []string, typed string) string {
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
