package console

import (
	"context"
	"io"
	"os"
)

// Typed returns the lines that somebody types while a program works, until ctx is
// done; nil where nobody can. They come from standard input where that is a terminal,
// or a pipe and pipes is set. A file is not read: it belongs to somebody else.
//
// A program in the background that reads from its terminal is stopped by the system
// (SIGTTIN). Typed has it read nothing instead.
func Typed(ctx context.Context, pipes bool) <-chan string {
	switch info, err := os.Stdin.Stat(); {
	case isTerminal(os.Stdin):
		ignoreBackgroundRead()
	case !pipes || err != nil || info.Mode()&os.ModeNamedPipe == 0:
		return nil
	}
	return NewPerson(ctx, io.Discard, os.Stdin).Lines
}
