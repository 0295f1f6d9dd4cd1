package lock

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// errHeld is returned by attempt where another process has the lock.
var errHeld = errors.New("held")

// A lock of Windows keeps others from reading the bytes that it covers. This one
// covers one byte far behind the end of every file.
var behind = windows.Overlapped{OffsetHigh: 1 << 30}

func lockByte(f *os.File, flags uint32) error {
	at := behind
	err := windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, &at)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return errHeld
	}
	return err
}

func wait(f *os.File) { lockByte(f, windows.LOCKFILE_EXCLUSIVE_LOCK) }

func attempt(f *os.File) error {
	return lockByte(f, windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY)
}

func unlock(f *os.File) {
	at := behind
	windows.UnlockFileEx(windows.Handle(f.Fd()), 0, 1, 0, &at)
}

func held(f *os.File) bool {
	return errors.Is(lockByte(f, windows.LOCKFILE_FAIL_IMMEDIATELY), errHeld)
}

// private returns nil: the folders of a user are that user's alone.
func private(string) error { return nil }
