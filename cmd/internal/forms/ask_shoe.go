package forms

import (
	"cmp"
	"fmt"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// questions returns the questions about a shoe in the order in which they are asked.
func (f *Shoe) questions() []question[logbook.Shoe] {
	type shoe = logbook.Shoe
	side := func(asks string, k int) question[shoe] {
		return question[shoe]{
			asks: asks, needed: true,
			is: func(s *shoe) string { return f.Unit.Length(s.PlatformMM[k]) },
			set: func(s *shoe, v string) (err error) {
				s.PlatformMM[k], err = device.ParseLength(v, string(f.Unit))
				return err
			},
		}
	}
	word := func(asks, field string, words []string, of func(*shoe) *string) question[shoe] {
		return question[shoe]{asks: asks + " (" + strings.Join(words, ", ") + ")", field: field, words: words, is: func(s *shoe) string { return *of(s) }}
	}
	length := func(asks, field string, of func(*shoe) float64) question[shoe] {
		return question[shoe]{asks: asks, field: field, is: func(s *shoe) string { return f.Unit.Length(of(s)) }}
	}
	return []question[shoe]{
		side("platform, width", 0),
		side("platform, depth", 1),
		{asks: "shape (" + text.ShapeHelp + ")", field: "shape", words: text.ShapeNames(), is: func(s *shoe) string { return text.Shape(&s.Shoe) }},
		word("box", "box", device.Boxes[:], func(s *shoe) *string { return &s.Box }),
		length("crown, the height of the profile", "crown", func(s *shoe) float64 { return s.CrownMM }),
		word("shank", "shank", device.Shanks[:], func(s *shoe) *string { return &s.Shank }),
		word("shank, length", "shank-length", device.ShankLengths[:], func(s *shoe) *string { return &s.ShankLength }),
		{asks: "padding", field: "padding", is: func(s *shoe) string { return s.Padding }},
		length("vamp, from the front of the platform to the throat", "vamp", func(s *shoe) float64 { return s.VampMM }),
		length("wings, from the platform to their top", "wings", func(s *shoe) float64 { return s.WingsMM }),
		{asks: "hours worn", field: "hours", is: func(s *shoe) string { return text.Known(s.HoursWorn, "") }},
	}
}

// Ask asks the user for the description of a shoe, draws it, and repeats the questions
// until the user confirms it. Fields given by flags are skipped.
func (f *Shoe) Ask(a *console.Person, s *logbook.Shoe) error {
	fmt.Fprintf(a.Out, "Shoe %s. "+howToAnswer, s.Code, f.Unit)
	v := interview[logbook.Shoe]{
		form: &f.Form, questions: f.questions(), check: checkShoe,
		doubts: func(s *logbook.Shoe) []device.Doubt { return s.Doubts() },
		swap:   func(s *logbook.Shoe) { s.PlatformMM[0], s.PlatformMM[1] = s.PlatformMM[1], s.PlatformMM[0] },
		show: func(s *logbook.Shoe) {
			output.Shoe(a.Out, s, f.Unit)
			output.Doubts(a.Out, s.Doubts())
		},
	}
	return v.ask(a, s)
}

// checkShoe returns an error where a value is not possible for a shoe. Part of the
// platform may still be unknown.
func checkShoe(s logbook.Shoe) error {
	for k, mm := range s.PlatformMM {
		if mm == 0 {
			s.PlatformMM[k] = 20 // any possible value
		}
	}
	return reason(cmp.Or(s.Check(), s.CheckTyped()))
}
