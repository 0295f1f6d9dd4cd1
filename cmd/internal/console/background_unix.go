//go:build unix

package console

import (
	"os/signal"
	"syscall"
)

// ignoreBackgroundRead has reading from the terminal fail in the background, where
// the system would stop the program otherwise.
func ignoreBackgroundRead() { signal.Ignore(syscall.SIGTTIN) }
