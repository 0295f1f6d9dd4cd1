// Package forms collects the description of a dancer, a visit or a shoe, field by
// field, from flags or from answers to questions.
package forms

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

// Field is one property of a T that a person can type.
type Field[T any] struct {
	Name  string   // of the flag
	Usage string   // the flag's help
	Words []string // completions of the flag; nil where it takes other values
	// Set sets the property from the text v; "" clears it.
	Set func(t *T, v string) error
}

// Form collects the values typed for the fields of a T and applies them later, when the T
// is known: a new one when adding, the one in the logbook when editing. Other fields do
// not change.
type Form[T any] struct {
	Fields []Field[T]
	typed  []typedField
}

type typedField struct{ name, value string }

// Type adds a value typed for a field.
func (f *Form[T]) Type(name, value string) { f.typed = append(f.typed, typedField{name, value}) }

// Preset sets the default value of a field.
func (f *Form[T]) Preset(name, value string) {
	f.typed = append([]typedField{{name, value}}, f.typed...)
}

// Any reports whether anything was typed.
func (f *Form[T]) Any() bool { return len(f.typed) > 0 }

// Has reports whether one of the fields was typed.
func (f *Form[T]) Has(names ...string) bool {
	return slices.ContainsFunc(f.typed, func(t typedField) bool { return slices.Contains(names, t.name) })
}

// Apply sets the typed values in t, in order.
func (f *Form[T]) Apply(t *T) error {
	for _, typed := range f.typed {
		if err := f.set(typed.name)(t, typed.value); err != nil {
			return usage.Errorf("--%s: %w", typed.name, err)
		}
	}
	return nil
}

func (f *Form[T]) set(name string) func(*T, string) error {
	i := slices.IndexFunc(f.Fields, func(one Field[T]) bool { return one.Name == name })
	return f.Fields[i].Set
}

func (f *Form[T]) add(name, usage string, words []string, set func(*T, string) error) {
	f.Fields = append(f.Fields, Field[T]{name, usage, words, set})
}

// text adds a field that takes a text in free words.
func (f *Form[T]) text(name, usage string, of func(*T) *string) {
	f.add(name, usage, nil, func(t *T, v string) error { *of(t) = v; return device.CheckLength(v) })
}

// word adds a field that takes one of some words.
func (f *Form[T]) word(name, usage string, words []string, of func(*T) *string) {
	f.add(name, usage+": "+strings.Join(words, ", "), words, func(t *T, v string) error {
		if v != "" && !slices.Contains(words, v) {
			return fmt.Errorf("%.40q: one of %s", v, strings.Join(words, ", "))
		}
		*of(t) = v
		return nil
	})
}

// number adds a field that takes a number; without one it is 0.
func (f *Form[T]) number(name, usage string, of func(*T) *float64) {
	f.add(name, usage, nil, func(t *T, v string) (err error) {
		*of(t) = 0
		if v != "" {
			*of(t), err = text.ParseNumber(v)
		}
		return err
	})
}

// whole adds a field that takes a whole number; without one it is 0.
func (f *Form[T]) whole(name, usage string, of func(*T) *int) {
	f.add(name, usage, nil, func(t *T, v string) (err error) {
		*of(t) = 0
		if v != "" {
			*of(t), err = text.ParseWhole(v)
		}
		return err
	})
}
