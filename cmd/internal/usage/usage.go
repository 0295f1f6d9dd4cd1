// Package usage marks errors in the command line. They end the program with another exit
// status than errors of the work.
package usage

import "fmt"

// Error marks an error in the command line; the program then refers to the help.
type Error struct{ error }

func (e Error) Unwrap() error { return e.error }

// New marks err as an error in the command line.
func New(err error) error { return Error{err} }

// Errorf returns a usage error with a text, as fmt.Errorf does.
func Errorf(format string, args ...any) error { return Error{fmt.Errorf(format, args...)} }
