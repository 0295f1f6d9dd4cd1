//go:build unix

package recording

import (
	"errors"
	"os"
	"syscall"
)

// lock marks a file as being written until it is closed or its process ends, so
// that locked can tell a recording that is running from one that was cut short.
// On a file system without locks a running recording looks like one that was cut
// short. lock waits only for another process that is in locked at this moment.
func lock(f *os.File) { syscall.Flock(int(f.Fd()), syscall.LOCK_EX) }

// locked says whether a process is writing the file at path.
func locked(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	return errors.Is(syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB), syscall.EWOULDBLOCK)
}
