package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
)

// settings are flags that each say one thing about a T, which is known only once
// all have been read: a new one when adding, the one in the logbook when editing.
// What is not typed stays as it is, and an empty value takes back what was said.
type settings[T any] struct {
	set   map[string]func(*T, string) error
	typed []typedFlag
}

type typedFlag struct{ name, value string }

// setting is one such flag.
type setting func(string)

func (s setting) String() string     { return "" }
func (s setting) Type() string       { return "string" }
func (s setting) Set(v string) error { s(v); return nil }

// flag adds a flag to cmd that words complete; set may be given "".
func (s *settings[T]) flag(cmd *cobra.Command, name, usage string, words []string, set func(*T, string) error) {
	if s.set == nil {
		s.set = map[string]func(*T, string) error{}
	}
	s.set[name] = set
	cmd.Flags().Var(setting(func(v string) { s.typed = append(s.typed, typedFlag{name, v}) }), name, usage)
	complete(cmd, name, oneOf(words...))
}

// text adds a flag that takes any text.
func (s *settings[T]) text(cmd *cobra.Command, name, usage string, of func(*T) *string) {
	s.flag(cmd, name, usage, nil, func(t *T, v string) error { *of(t) = v; return nil })
}

// word adds a flag that takes one of some words.
func (s *settings[T]) word(cmd *cobra.Command, name, usage string, words []string, of func(*T) *string) {
	s.flag(cmd, name, usage+": "+strings.Join(words, ", "), words, func(t *T, v string) error {
		if v != "" && !slices.Contains(words, v) {
			return fmt.Errorf("%.40q: one of %s", v, strings.Join(words, ", "))
		}
		*of(t) = v
		return nil
	})
}

// number adds a flag that takes a number; without one it is 0.
func (s *settings[T]) number(cmd *cobra.Command, name, usage string, of func(*T) *float64) {
	s.flag(cmd, name, usage, nil, func(t *T, v string) (err error) {
		*of(t) = 0
		if v != "" {
			*of(t), err = number(v)
		}
		return err
	})
}

// whole adds a flag that takes a whole number; without one it is 0.
func (s *settings[T]) whole(cmd *cobra.Command, name, usage string, of func(*T) *int) {
	s.flag(cmd, name, usage, nil, func(t *T, v string) (err error) {
		*of(t) = 0
		if v != "" {
			*of(t), err = whole(v)
		}
		return err
	})
}

func number(v string) (float64, error) {
	n, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
	if err != nil {
		return 0, fmt.Errorf("%.40q is no number", v)
	}
	return n, nil
}

func whole(v string) (int, error) {
	n, err := strconv.Atoi(v)
	if err != nil {
		return 0, fmt.Errorf("%.40q is no whole number", v)
	}
	return n, nil
}

// any says whether any of the flags was typed.
func (s *settings[T]) any() bool { return len(s.typed) > 0 }

// has says whether one of the flags named was typed.
func (s *settings[T]) has(names ...string) bool {
	return slices.ContainsFunc(s.typed, func(f typedFlag) bool { return slices.Contains(names, f.name) })
}

// apply does to t what was typed.
func (s *settings[T]) apply(t *T) error {
	for _, f := range s.typed {
		if err := s.set[f.name](t, f.value); err != nil {
			return misused("--%s: %w", f.name, err)
		}
	}
	return nil
}
