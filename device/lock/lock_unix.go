//go:build unix

package lock

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// errHeld is returned by attempt where another process has the lock.
var errHeld = errors.New("held")

func wait(f *os.File) { syscall.Flock(int(f.Fd()), syscall.LOCK_EX) }

func attempt(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	switch {
	case errors.Is(err, syscall.EWOULDBLOCK):
		return errHeld
	case errors.Is(err, syscall.ENOTSUP), errors.Is(err, syscall.ENOSYS), errors.Is(err, syscall.ENOLCK): // no locks there
		return nil
	}
	return err
}

func unlock(f *os.File) { syscall.Flock(int(f.Fd()), syscall.LOCK_UN) }

func held(f *os.File) bool {
	return errors.Is(syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB), syscall.EWOULDBLOCK)
}

// private returns an error unless dir is a folder of this user in which nobody else
// can write.
func private(dir string) error {
	info, err := os.Lstat(dir)
	if err != nil {
		return err
	}
	at, ok := info.Sys().(*syscall.Stat_t)
	switch {
	case !info.IsDir():
		return fmt.Errorf("%s is no folder", dir)
	case ok && int(at.Uid) != os.Geteuid():
		return fmt.Errorf("%s is the folder of another user", dir)
	case info.Mode().Perm()&0o022 != 0:
		return fmt.Errorf("others can write into %s", dir)
	}
	return nil
}
