package logbook

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"aplomb/device/input"
)

// openReadOnly opens the logbook in dir from a copy of its database in memory, so that
// nothing is written to its folder. A logbook of an older version is migrated in that
// copy. Later changes by other programs are not visible.
func openReadOnly(dir string, migrations fs.FS) (*Logbook, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	steps, err := readSteps(migrations)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(dir, database)
	db, err := openCopy(path)
	if err != nil {
		return nil, explain(dir, err)
	}
	l := &Logbook{dir: dir, db: db, readOnly: true}
	version, err := versionIn(db, path)
	switch {
	case err != nil:
	case version == 0:
		err = errLost(dir, "has no tables")
	default:
		err = checkVersion(dir, version, len(steps))
	}
	if err == nil {
		err = l.migrate(version, steps)
	}
	if err == nil {
		_, err = db.Exec(`PRAGMA query_only = 1`)
	}
	if err != nil {
		db.Close()
		return nil, explain(dir, err)
	}
	return l, nil
}

// changeCopy is change for the in-memory copy of a logbook that cannot be written.
func (l *Logbook) changeCopy(f func(*sql.Tx) error) error {
	if _, err := l.db.Exec(`PRAGMA query_only = 0`); err != nil {
		return explain(l.dir, err)
	}
	err := l.commit(f)
	_, e := l.db.Exec(`PRAGMA query_only = 1`)
	return cmp.Or(err, explain(l.dir, e))
}

// openCopy opens an in-memory copy of the database at path. It creates and changes no
// file beside path. The copy includes the write-ahead log of a program that ended
// unexpectedly; where that cannot be read without writing, the error is ErrReadOnly.
func openCopy(path string) (*sql.DB, error) {
	image, err := readImage(path)
	if err != nil {
		return nil, err
	}
	// Bytes 18 and 19 of the header are the write and read version of the file: 2 is with
	// a write-ahead log, which an in-memory database does not support; 1 is without
	// (https://www.sqlite.org/fileformat2.html, section 1.3.3).
	const writeVersion, readVersion = 18, 19
	if len(image) > readVersion {
		image[writeVersion], image[readVersion] = 1, 1
	}
	db, err := connect("logbook", "memory", "foreign_keys(1)", "temp_store(memory)")
	if err != nil {
		return nil, err
	}
	if err := onDriver(db, func(c imager) error { return c.Deserialize(image) }); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// readImage returns the bytes of the database at path, with the changes that are still in
// its log. The error matches ErrUnreadable or ErrReadOnly.
func readImage(path string) (image []byte, err error) {
	path = behindLinks(path)
	in, err := input.Open(path)
	if errors.Is(err, fs.ErrPermission) {
		return nil, errUnreadable(filepath.Dir(path))
	}
	if err != nil {
		return nil, err
	}
	in.Close()
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		if _, err := os.Stat(path + "-shm"); errors.Is(err, fs.ErrNotExist) && !writable(filepath.Dir(path)) {
			return nil, errReadOnly(filepath.Dir(path), "its log "+filepath.Base(path)+"-wal holds changes, and reading those takes a file beside it")
		}
		db, err := connect(path, "ro")
		if err != nil {
			return nil, err
		}
		defer db.Close()
		err = onDriver(db, func(c imager) (err error) {
			image, err = c.Serialize()
			return err
		})
		return image, err
	}
	before, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if image, err = os.ReadFile(path); err != nil {
		return nil, err
	}
	after, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	log, err := os.Stat(path + "-wal")
	if !after.ModTime().Equal(before.ModTime()) || after.Size() != before.Size() || err == nil && log.Size() > 0 {
		return nil, fmt.Errorf("%s: %w, which has just changed it: try again", path, ErrLocked)
	}
	return image, nil
}

// canWrite reports whether this process may write to the database at path and create
// files beside it.
func canWrite(path string) bool {
	path = behindLinks(path)
	return writable(path) && writable(filepath.Dir(path))
}

// behindLinks returns the target of the file at path where that is a symbolic link.
// SQLite creates its other files beside the target.
func behindLinks(path string) string {
	if to, err := filepath.EvalSymlinks(path); err == nil {
		return to
	}
	return path
}

// imager is a connection of the SQLite driver that serializes and deserializes a whole
// database.
type imager interface {
	Serialize() ([]byte, error)
	Deserialize([]byte) error
}

// onDriver calls f with the driver's connection of db.
func onDriver(db *sql.DB, f func(imager) error) error {
	conn, err := db.Conn(context.Background())
	if err != nil {
		return err
	}
	defer conn.Close()
	return conn.Raw(func(driver any) error {
		c, ok := driver.(imager)
		if !ok {
			return errors.New("the SQLite driver gives no copy of a database")
		}
		return f(c)
	})
}
