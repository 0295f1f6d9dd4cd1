//go:build unix

package recording

import (
	"errors"
	"os"
	"syscall"
)

// lock marks a file as being written, until it is closed or its process ends.
// That nobody else writes it follows from its being new; the lock tells a
// recording that is running from one that was cut short. Where the file system
// has no locks a running one looks like the other. It waits only for another
// process that is asking locked at this moment.
func lock(f *os.File) { syscall.Flock(int(f.Fd()), syscall.LOCK_EX) }

// locked says whether somebody is writing the file at path.
func locked(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	return errors.Is(syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB), syscall.EWOULDBLOCK)
}
