//go:build unix

package console

import (
	"os/signal"
	"syscall"
)

// ignoreBackgroundRead makes reading from the terminal in the background fail; otherwise
// the system would stop the program.
func ignoreBackgroundRead() { signal.Ignore(syscall.SIGTTIN) }

// OutliveReaders makes writing to a closed pipe fail; otherwise the system would end the
// program. It is for programs whose work is more important than their progress messages.
func OutliveReaders() { signal.Ignore(syscall.SIGPIPE) }
