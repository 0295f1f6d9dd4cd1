//go:build unix

package console

import (
	"os/signal"
	"syscall"
)

// ignoreBackgroundRead has reading from the terminal fail in the background, where
// the system would stop the program otherwise.
func ignoreBackgroundRead() { signal.Ignore(syscall.SIGTTIN) }

// OutliveReaders has writing to a pipe that nobody reads any more fail, where the
// system would end the program otherwise. It is for a program that has something more
// important to do than to say how it goes.
func OutliveReaders() { signal.Ignore(syscall.SIGPIPE) }
