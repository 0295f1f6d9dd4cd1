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

	_ "modernc.org/sqlite" // registers the driver "sqlite"
)

const (
	database   = "logbook.sqlite"
	recordings = "recordings"
	// application marks our databases (PRAGMA application_id): "Apl" and 1.
	application = 0x41706c01
	// patience is how long to wait for another program.
	patience = 5 * time.Second
)

//go:embed migrations/*.sql
var shipped embed.FS

// Logbook is an open logbook. Its methods may be called from several goroutines.
type Logbook struct {
	dir string
	db  *sql.DB // one connection: whoever reads or writes has it to themselves
}

// Exists says whether there is a logbook in the folder dir.
func Exists(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, database))
	return err == nil
}

// Bereft returns an error, ErrDamaged, where there are recordings in the folder
// dir without the database that knew of them.
func Bereft(dir string) error {
	if Exists(dir) {
		return nil
	}
	entries, err := os.ReadDir(filepath.Join(dir, recordings))
	if err != nil || len(entries) == 0 {
		return nil
	}
	return fmt.Errorf("logbook %s: %w: its recordings are there, its database %s is gone: use a backup, or rebuild it from its recordings (aplomb logbook rebuild)", dir, ErrDamaged, database)
}

// Open opens the logbook in the folder dir, or begins one there. A logbook of an
// older version is brought up to date, after a copy of it was set aside; one of a
// newer version is left as it is (ErrNewer). ErrLocked, ErrDamaged, ErrReadOnly
// and ErrForeign say why else it cannot be used.
func Open(dir string) (*Logbook, error) {
	if err := Bereft(dir); err != nil {
		return nil, err
	}
	migrations, err := fs.Sub(shipped, "migrations")
	if err != nil {
		return nil, err
	}
	return open(dir, database, migrations)
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
	if err := furnish(dir, path); err != nil {
		return nil, explain(dir, err)
	}
	version, err := versionOf(path)
	if err == nil && version > len(steps) {
		err = fmt.Errorf("logbook %s: %w (version %d, this one reads up to %d): use the newer program", dir, ErrNewer, version, len(steps))
	}
	if err != nil {
		return nil, explain(dir, err)
	}
	db, err := connect(path, "rw",
		"foreign_keys(1)",
		"secure_delete(1)",
		"temp_store(memory)", // nothing of a dancer in the system's temporary folder
		"synchronous(full)",  // a change that was reported done survives a power cut
		"journal_mode(wal)",
	)
	if err != nil {
		return nil, explain(dir, err)
	}
	l := &Logbook{dir: dir, db: db}
	if err = l.migrate(version, steps); err == nil {
		err = l.finishErasing()
	}
	if err != nil && !errors.Is(err, errBusyReader) {
		db.Close()
		return nil, explain(dir, err)
	}
	return l, nil
}

// furnish makes the folder and an empty database, for the owner alone. What is
// there already stays as it is.
func furnish(dir, path string) error {
	if err := os.MkdirAll(filepath.Join(dir, recordings), 0o700); err != nil {
		return err
	}
	// An empty file is an empty database, and SQLite gives its other files the
	// mode of this one. The file is never opened like this again: closing it
	// would take away the locks of a logbook that is open in this process.
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil // another program was faster
	}
	if err != nil {
		return err
	}
	return file.Close()
}

// connect opens a database in the given mode of SQLite's (ro or rw).
func connect(path, mode string, pragmas ...string) (*sql.DB, error) {
	query := url.Values{
		"mode":    {mode},
		"_txlock": {"immediate"},
		"_dqs":    {"0"}, // a misspelt column is an error, not a string
		"_pragma": append([]string{fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds())}, pragmas...),
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

// change makes all of what f does, or nothing of it.
func (l *Logbook) change(f func(*sql.Tx) error) error {
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

// read lets f see one state of the logbook while others may change it.
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
	rows, err := tx.Query(query, args...)
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
