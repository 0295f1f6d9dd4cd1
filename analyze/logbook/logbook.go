package logbook

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"modernc.org/sqlite" // registers the driver "sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"aplomb/device/input"
	"aplomb/device/owneronly"
)

const (
	database   = "logbook.sqlite"
	recordings = "recordings"
	// applicationID marks databases of this program (PRAGMA application_id): "Apl" and 1.
	applicationID = 0x41706c01
	// lockTimeout is how long to wait for another program that writes. On a busy machine
	// creating a logbook takes some seconds.
	lockTimeout = 15 * time.Second
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// Logbook is an open logbook. Its methods may be called from several goroutines.
type Logbook struct {
	dir      string
	db       *sql.DB // one connection, so that calls that read or write follow each other
	readOnly bool    // db is a copy in memory, because the folder cannot be written
	full     bool    // ... because its disk is full
}

// Exists reports whether there is a logbook in the folder dir.
func Exists(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, database))
	return err == nil
}

// CheckDatabase returns ErrDamaged where there are recordings in the folder dir
// but no database, or a database file of 0 bytes, ErrUnreadable where this user may
// not look into the folder, and another error where the database is a symbolic link to
// a file that cannot be reached.
func CheckDatabase(dir string) error {
	info, err := os.Stat(filepath.Join(dir, database))
	if errors.Is(err, fs.ErrPermission) {
		return errUnreadable(dir)
	}
	if err := checkLink(dir); err != nil {
		return err
	}
	switch {
	case err == nil && info.Size() > 0, !holdsRecordings(dir):
		return nil
	case err == nil:
		return errLost(dir, "is empty")
	case errors.Is(err, fs.ErrNotExist):
		return errLost(dir, "is gone")
	}
	return nil // opening it returns the reason
}

// holdsRecordings reports whether the folder of recordings contains anything.
func holdsRecordings(dir string) bool {
	entries, err := os.ReadDir(filepath.Join(dir, recordings))
	return err == nil && len(entries) > 0
}

// errLost returns the error for a logbook with recordings but without a usable database;
// what is the problem of the database.
func errLost(dir, what string) error {
	return fmt.Errorf("logbook %s: %w: its recordings are there, its database %s %s: use a backup, or rebuild it from its recordings (aplomb logbook rebuild)", dir, ErrDamaged, database, what)
}

// Open opens the logbook in the folder dir, or creates one there. A logbook of an older
// version is migrated after its database was copied; one of a newer version is left
// unchanged (ErrNewer). ErrLocked, ErrDamaged, ErrReadOnly and ErrForeign are the other
// reasons why it cannot be used.
//
// A logbook that this program may not write is opened for reading: nothing in its folder
// changes, and every change is refused with ErrReadOnly. The same applies to one whose
// disk is full, with ErrFull.
func Open(dir string) (*Logbook, error) {
	if err := CheckDatabase(dir); err != nil {
		return nil, err
	}
	migrations, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		return nil, err
	}
	if Exists(dir) && !canWrite(filepath.Join(dir, database)) {
		return openReadOnly(dir, migrations)
	}
	l, err := open(dir, database, migrations)
	full := errors.Is(err, ErrFull)
	if !full && !errors.Is(err, ErrReadOnly) || !Exists(dir) {
		return l, err
	}
	if l, err = openReadOnly(dir, migrations); err == nil {
		l.full = full
	}
	return l, err
}

// Writable returns ErrReadOnly or ErrFull for a logbook that was opened for reading
// alone.
func (l *Logbook) Writable() error {
	if l.full {
		return errFull(l.dir)
	}
	if l.readOnly {
		return errReadOnly(l.dir, "no permission, or a read-only disk")
	}
	return nil
}

func open(dir, name string, migrations fs.FS) (*Logbook, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	steps, err := readSteps(migrations)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(dir, name)
	if err := createFiles(dir, path); err != nil {
		return nil, explain(dir, err)
	}
	db, writes, err := openUnchanged(path)
	if err != nil {
		return nil, explain(dir, err)
	}
	version, err := versionIn(db, path)
	if err == nil {
		err = checkVersion(dir, version, len(steps))
	}
	if err == nil && version == 0 && name == database && holdsRecordings(dir) {
		err = errLost(dir, "has no tables")
	}
	if err != nil {
		db.Close()
		return nil, explain(dir, err)
	}
	// It is a logbook that this program knows: from here on it may be changed.
	if !writes {
		db.Close()
		if db, err = connect(path, "rw", settings...); err != nil {
			return nil, explain(dir, err)
		}
	}
	l := &Logbook{dir: dir, db: db}
	if err = useWAL(db); err == nil {
		err = l.migrate(version, steps)
	}
	if err == nil {
		err = l.finishErasing(context.Background())
	}
	if err == nil {
		err = l.followParts(context.Background())
	}
	if err != nil && !errors.Is(err, errBusyReader) {
		db.Close()
		return nil, explain(dir, err)
	}
	return l, nil
}

// useWAL sets the journal mode of db to a write-ahead log. Where two programs change the
// mode at once, SQLite refuses one of them immediately, so it is tried again.
func useWAL(db *sql.DB) error {
	for until := time.Now().Add(lockTimeout); ; time.Sleep(10 * time.Millisecond) {
		_, err := db.Exec(`PRAGMA journal_mode = wal`)
		var s *sqlite.Error
		if !errors.As(err, &s) || s.Code()&0xFF != sqlite3.SQLITE_BUSY || time.Now().After(until) {
			return err
		}
	}
}

// createFiles makes the folder and an empty database, readable by the owner
// alone. What exists already stays as it is.
func createFiles(dir, path string) error {
	if info, err := os.Stat(filepath.Join(dir, recordings)); err == nil && !info.IsDir() {
		return fmt.Errorf("logbook %s: %w: %s is no folder: move it away, and put the recordings back from a backup", dir, ErrDamaged, recordings)
	}
	if err := os.MkdirAll(filepath.Join(dir, recordings), owneronly.Folder); err != nil {
		return err
	}
	if kind := (*input.KindError)(nil); errors.As(input.CheckKind(path), &kind) {
		return fmt.Errorf("logbook %s: %w: its database %s is %s: use a backup, or rebuild it from its recordings (aplomb logbook rebuild)", dir, ErrDamaged, filepath.Base(path), kind.Kind)
	}
	// An empty file is an empty database, and SQLite gives its other files the
	// mode of this one. An existing file is not opened here: closing it would
	// release the locks of a logbook that is open in this process.
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := createEmpty(path); !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil // another program was faster
}

// createEmpty creates an empty file, readable by the owner alone, which SQLite opens as
// an empty database.
func createEmpty(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, owneronly.File)
	if err != nil {
		return err
	}
	return file.Close()
}

// connect opens a database in SQLite's mode ro or rw.
func connect(path, mode string, pragmas ...string) (*sql.DB, error) {
	query := url.Values{
		"mode":    {mode},
		"_txlock": {"immediate"},
		"_dqs":    {"0"}, // a misspelt column is an error, not a string
		"_pragma": append([]string{fmt.Sprintf("busy_timeout(%d)", lockTimeout.Milliseconds())}, pragmas...),
	}
	at := url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path), RawQuery: query.Encode()}
	db, err := sql.Open("sqlite", at.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	if err := db.Ping(); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// Close closes the logbook.
func (l *Logbook) Close() error { return explain(l.dir, l.db.Close()) }

// Dir returns the folder, as an absolute path.
func (l *Logbook) Dir() string { return l.dir }

// change runs f in a transaction: all of its changes are made, or none.
func (l *Logbook) change(f func(*sql.Tx) error) error {
	if err := l.Writable(); err != nil {
		return err
	}
	return l.commit(f)
}

func (l *Logbook) commit(f func(*sql.Tx) error) error {
	tx, err := l.db.Begin()
	if err != nil {
		return explain(l.dir, err)
	}
	defer tx.Rollback()
	if err := f(tx); err != nil {
		return explain(l.dir, err)
	}
	return explain(l.dir, tx.Commit())
}

// read runs f in a transaction with a consistent view of the logbook, also while other
// programs change it.
func (l *Logbook) read(f func(*sql.Tx) error) error {
	tx, err := l.db.BeginTx(context.Background(), &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return explain(l.dir, err)
	}
	defer tx.Rollback()
	return explain(l.dir, f(tx))
}

// each calls f for every row of a query.
func each(tx *sql.Tx, f func(*sql.Rows) error, query string, args ...any) error {
	return eachContext(context.Background(), tx, f, query, args...)
}

// eachContext is each for a query that may take long: it ends when ctx is done.
func eachContext(ctx context.Context, tx *sql.Tx, f func(*sql.Rows) error, query string, args ...any) error {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
