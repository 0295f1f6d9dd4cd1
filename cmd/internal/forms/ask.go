package forms

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"aplomb/cmd/internal/console"
	"aplomb/device"
)

// howToAnswer is printed before the questions, with the unit of lengths.
const howToAnswer = "Lengths are in %s unless a unit follows them.\nEnter skips a question, or keeps the value in [].\n"

// question is one question about a T.
type question[T any] struct {
	asks   string
	field  string                 // name of the field that the answer sets, "" for none; not asked where it was given by a flag
	words  []string               // possible answers, which can be abbreviated; nil for any answer
	needed bool                   // an answer is required
	is     func(*T) string        // the present value in the T, "" for none
	set    func(*T, string) error // nil for the field's Set
}

// interview asks a person about a T.
type interview[T any] struct {
	form      *Form[T]
	questions []question[T]
	check     func(T) error           // returns an error where a value is not possible; part of the T may still be unknown
	doubts    func(*T) []device.Doubt // returns its improbable values
	swap      func(*T)                // swaps the values that a doubt names
	show      func(*T)                // prints the T
}

// ask asks until the user confirms the answers. Fields given by flags are skipped.
func (v *interview[T]) ask(a *console.Person, t *T) error {
	for {
		for _, q := range v.questions {
			if q.field != "" && v.form.Has(q.field) {
				continue
			}
			if err := v.askOne(a, q, t); err != nil {
				return err
			}
		}
		fmt.Fprintln(a.Out)
		v.show(t)
		right, err := yes(a, "Is this right? [Y/n]")
		if err != nil || right {
			return err
		}
		fmt.Fprintln(a.Out, "Once more, then. - takes back what stands in [].")
	}
}

// yes asks a question for which Enter means yes.
func yes(a *console.Person, question string) (is bool, err error) {
	err = a.AskUntil(question, func(answer string) error {
		switch strings.ToLower(answer) {
		case "", "y", "yes":
			is = true
		case "n", "no":
			is = false
		default:
			return errors.New("y or n")
		}
		return nil
	})
	return is, err
}

// askOne asks one question until the answer is possible, and either probable or
// confirmed.
func (v *interview[T]) askOne(a *console.Person, q question[T], t *T) error {
	for {
		before := v.doubts(t)
		next := *t
		if err := v.answer(a, q, &next); err != nil {
			return err
		}
		sure, err := v.confirmDoubts(a, before, &next)
		if err != nil {
			return err
		}
		if sure {
			*t = next
			return nil
		}
	}
}

// confirmDoubts asks for confirmation of values that are improbable since an answer, and swaps
// those that were interchanged.
func (v *interview[T]) confirmDoubts(a *console.Person, before []device.Doubt, t *T) (bool, error) {
	for _, d := range v.doubts(t) {
		if slices.Contains(before, d) {
			continue
		}
		if d.Swapped {
			swapped, err := yes(a, "  "+d.Text+". Swap them? [Y/n]")
			if err != nil || swapped {
				v.swap(t)
				return true, err
			}
			continue
		}
		meant, err := a.Confirm("  " + d.Text + " Keep it?")
		if err != nil || !meant {
			return false, err
		}
	}
	return true, nil
}

// answer asks one question until the answer is possible, and sets it in t.
func (v *interview[T]) answer(a *console.Person, q question[T], t *T) error {
	set := q.set
	if set == nil {
		set = v.form.set(q.field)
	}
	prompt := q.asks
	if standing := q.is(t); standing != "" {
		prompt += " [" + standing + "]"
	}
	return a.AskUntil(prompt+":", func(answer string) error {
		next := *t
		var err error
		switch {
		case answer == "" && q.needed && q.is(t) == "":
			return errors.New("this one is needed")
		case answer == "":
			return nil
		case answer == "-" && !q.needed:
			err = set(&next, "")
		case len(q.words) > 0:
			err = set(&next, complete(q.words, answer))
		default:
			err = set(&next, answer)
		}
		if err == nil && q.needed && q.is(&next) == "" {
			err = errors.New("above 0")
		}
		if err == nil {
			err = v.check(next)
		}
		if err == nil {
			*t = next
		}
		return err
	})
}

// reason returns the error without its key of the profile.
func reason(err error) error {
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
