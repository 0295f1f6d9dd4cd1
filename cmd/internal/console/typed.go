package console

import (
	"context"
	"io"
	"os"
)

// Typed returns the lines typed while a program works, until ctx is done; nil where there
// is no input. They are read from standard input where that is a terminal, or a pipe and
// pipes is set. A file is not read, because it is not meant for this.
//
// The system stops a background program that reads from its terminal (SIGTTIN). With
// Typed such a program reads nothing instead.
func Typed(ctx context.Context, pipes bool) <-chan string {
	switch info, err := os.Stdin.Stat(); {
	case isTerminal(os.Stdin):
		ignoreBackgroundRead()
	case !pipes || err != nil || info.Mode()&os.ModeNamedPipe == 0:
		return nil
	}
	return NewPerson(ctx, io.Discard, os.Stdin).Lines
}
