package logbook

import (
	"errors"
	"fmt"
	"io/fs"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What a caller may want to tell apart, with errors.Is.
var (
	ErrNotFound = errors.New("not in the logbook")
	ErrExists   = errors.New("already in the logbook")
	ErrInUse    = errors.New("recordings were made with it")
	ErrInvalid  = errors.New("not possible")
	ErrNewer    = errors.New("written by a newer version of this program")
	ErrLocked   = errors.New("locked by another program")
	ErrDamaged  = errors.New("damaged")
	ErrReadOnly = errors.New("cannot be written")
	ErrForeign  = errors.New("a database of something else")
)

// explain says in one line what SQLite's error means for the logbook in dir and
// what to do. Errors that are not SQLite's pass as they are, and so do those that
// were explained before.
func explain(dir string, err error) error {
	var s *sqlite.Error
	if !errors.As(err, &s) {
		if errors.Is(err, fs.ErrPermission) {
			return fmt.Errorf("logbook %s: %w (%v): make the folder writable, or use a copy of it", dir, ErrReadOnly, err)
		}
		return err
	}
	switch s.Code() & 0xFF { // the rest of the code says more than anyone asks for
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("logbook %s: %w: try again when it is done", dir, ErrLocked)
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("logbook %s: %w (%v): use a backup, or rebuild it from its recordings (aplomb logbook rebuild)", dir, ErrDamaged, s)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		return fmt.Errorf("logbook %s: %w (%v): make the folder writable, or use a copy of it", dir, ErrReadOnly, s)
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("logbook %s: the disk is full: nothing was changed", dir)
	}
	return fmt.Errorf("logbook %s: %v", dir, err)
}

// impossible is an ErrInvalid that says what is wrong and nothing more.
type impossible string

func (e impossible) Error() string        { return string(e) }
func (e impossible) Is(target error) bool { return target == ErrInvalid }

// invalid says what about a value is not possible.
func invalid(format string, args ...any) error {
	return impossible(fmt.Sprintf(format, args...))
}
