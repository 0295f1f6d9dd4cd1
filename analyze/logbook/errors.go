package logbook

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"aplomb/device/lock"
)

// Kinds of errors that a caller distinguishes with errors.Is.
var (
	ErrNotFound    = errors.New("not in the logbook")
	ErrExists      = errors.New("already in the logbook")
	ErrNotMeasured = errors.New("nothing was measured")
	ErrInUse       = errors.New("recordings were made with it")
	ErrInvalid     = errors.New("not possible")
	ErrNewer       = errors.New("written by a newer version of this program")
	ErrTraces      = errors.New("traces in the files are not yet erased")
	ErrLocked      = errors.New("locked by another program")
	ErrDamaged     = errors.New("damaged")
	ErrFull        = errors.New("the disk is full")
	ErrReadOnly    = errors.New("cannot be written")
	ErrUnreadable  = errors.New("may not be read")
	ErrForeign     = errors.New("a database of something else")
	ErrRecording   = errors.New("is being made now")
	ErrBegun       = errors.New("has begun")
	ErrChanged     = errors.New("has changed meanwhile")
	ErrWithdrawn   = errors.New("consent is withdrawn")
)

// explain returns an error that states in one line what SQLite's error means for the
// logbook in dir and what to do. It returns other errors, and those explained before,
// unchanged.
func explain(dir string, err error) error {
	var s *sqlite.Error
	if !errors.As(err, &s) {
		if errors.Is(err, ErrReadOnly) || errors.Is(err, ErrUnreadable) {
			return err // explained already
		}
		if errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) {
			return errReadOnly(dir, err)
		}
		return err
	}
	switch s.Code() & 0xFF { // the primary result code; the other bits are details
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		by := ""
		if h := lock.ByteHolder(filepath.Join(dir, database+"-shm"), walWriteLock); h.PID != 0 {
			by = " (" + h.String() + ")"
		}
		return fmt.Errorf("logbook %s: %w%s: try again when it is done", dir, ErrLocked, by)
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("logbook %s: %w (%v): use a backup, or rebuild it from its recordings (aplomb logbook rebuild)", dir, ErrDamaged, s)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		return errReadOnly(dir, s)
	case sqlite3.SQLITE_FULL:
		return errFull(dir)
	}
	if s.Code() == sqlite3.SQLITE_IOERR_SHMSIZE { // no room for the shared-memory file
		return errFull(dir)
	}
	return fmt.Errorf("logbook %s: %v", dir, err)
}

// errFull returns the error for a logbook whose disk is full.
func errFull(dir string) error {
	return fmt.Errorf("logbook %s: %w, and nothing was changed: make room", dir, ErrFull)
}

// errReadOnly returns the error for a logbook that cannot be written, with the reason.
func errReadOnly(dir string, why any) error {
	return fmt.Errorf("logbook %s: %w (%v): make the folder writable, or use a copy of it", dir, ErrReadOnly, why)
}

// errUnreadable returns the error for a logbook that this user may not read.
func errUnreadable(dir string) error {
	return fmt.Errorf("logbook %s: %w by this user: its owner has to permit it", dir, ErrUnreadable)
}

// walWriteLock is the offset of the byte in the shared-memory file that is locked while a
// program writes into the database. See https://www.sqlite.org/walformat.html, section
// 2.3.
const walWriteLock = 120

// invalidError is an ErrInvalid whose text is only the reason.
type invalidError string

func (e invalidError) Error() string        { return string(e) }
func (e invalidError) Is(target error) bool { return target == ErrInvalid }

// invalid returns an ErrInvalid with the reason why a value is not possible.
func invalid(format string, args ...any) error {
	return invalidError(fmt.Sprintf(format, args...))
}
