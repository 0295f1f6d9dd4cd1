// Package usage marks errors in what a person typed. They end the program with
// another exit status than errors of the work.
package usage

import "fmt"

// Error marks an error in what was typed: the program points at the help.
type Error struct{ error }

func (e Error) Unwrap() error { return e.error }

// New marks err as an error in what was typed.
func New(err error) error { return Error{err} }

// Errorf returns a usage error with a text, as fmt.Errorf does.
func Errorf(format string, args ...any) error { return Error{fmt.Errorf(format, args...)} }
