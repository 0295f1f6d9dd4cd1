package logbook

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// Finding is something about a logbook that is not as it should be.
type Finding struct {
	Where string // file or table
	What  string
	Do    string // what to do about it
}

func (f Finding) String() string { return f.Where + ": " + f.What + ": " + f.Do }

const (
	useBackup = "use a backup, or rebuild the logbook from its recordings (aplomb logbook rebuild)"
	takeIn    = "aplomb import FILE --dancer CODE --visit VISIT takes it in; or remove the file"
)

// Check looks at everything: the database, what its rows point at, and every
// recording's bytes. What it finds is no error.
func (l *Logbook) Check() (all []Finding, err error) {
	path := filepath.Join(l.dir, database)
	sound, err := l.soundness()
	for _, what := range sound {
		all = append(all, Finding{path, what, useBackup})
	}
	if err != nil || len(sound) > 0 {
		return all, err // what a damaged database says of files is worth nothing
	}
	for _, err := range []error{second(l.shoes("")), second(l.strips(""))} {
		if err != nil {
			all = append(all, Finding{path, err.Error(), useBackup})
		}
	}
	kept, err := l.Recordings(Filter{})
	if err != nil {
		return all, err
	}
	for _, r := range kept {
		sum, size, err := sha256Of(r.Path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			all = append(all, Finding{r.Path, "the recording is missing", fmt.Sprintf("put it back from a backup, or erase it (aplomb logbook erase %d)", r.ID)})
		case err != nil:
			all = append(all, Finding{r.Path, fmt.Sprintf("the recording cannot be read (%v)", err), "put it back from a backup"})
		case sum != r.SHA256:
			all = append(all, Finding{r.Path, fmt.Sprintf("the recording is not what it was (%d bytes, then %d)", size, r.Size),
				fmt.Sprintf("put it back from a backup, or erase it (aplomb logbook erase %d)", r.ID)})
		}
	}
	loose, err := l.loose()
	for _, name := range loose {
		f := Finding{filepath.Join(l.dir, recordings, name), "in no visit", takeIn}
		if strings.HasSuffix(name, copying) {
			f.What, f.Do = "a copy that was cut short", "remove the file"
		}
		all = append(all, f)
	}
	if err != nil {
		return all, explain(l.dir, err)
	}
	copies, err := setAside(l.dir)
	for _, path := range copies {
		all = append(all, Finding{path, "a copy of the database, set aside earlier", "remove it once nobody needs it"})
	}
	if err != nil {
		return all, explain(l.dir, err)
	}
	var erasing int
	err = l.read(func(tx *sql.Tx) error { return tx.QueryRow(`SELECT count(*) FROM erasing`).Scan(&erasing) })
	if erasing > 0 {
		all = append(all, Finding{path, "traces of what was deleted are still to be erased", "close every other program that uses the logbook and open it again"})
	}
	return append(all, l.exposed()...), err
}

// soundness says what SQLite finds wrong with the database.
func (l *Logbook) soundness() (wrong []string, err error) {
	err = l.read(func(tx *sql.Tx) error {
		err := each(tx, func(rows *sql.Rows) error {
			var what string
			err := rows.Scan(&what)
			if what != "ok" {
				wrong = append(wrong, strings.ReplaceAll(what, "\n", " "))
			}
			return err
		}, `PRAGMA integrity_check(20)`)
		if err != nil {
			return err
		}
		return each(tx, func(rows *sql.Rows) error {
			var table, parent string
			var row sql.NullInt64
			var n int
			err := rows.Scan(&table, &row, &parent, &n)
			wrong = append(wrong, fmt.Sprintf("row %d of %s points at a row of %s that is not there", row.Int64, table, parent))
			return err
		}, `PRAGMA foreign_key_check`)
	})
	if errors.Is(err, ErrDamaged) {
		return append(wrong, "SQLite cannot read all of it"), nil
	}
	return wrong, err
}

// exposed lists what others than the owner can read.
func (l *Logbook) exposed() (all []Finding) {
	if runtime.GOOS == "windows" {
		return nil // modes mean nothing there
	}
	for _, path := range []string{l.dir, filepath.Join(l.dir, recordings), filepath.Join(l.dir, database)} {
		if info, err := os.Stat(path); err == nil && info.Mode()&0o077 != 0 {
			all = append(all, Finding{path, fmt.Sprintf("others than the owner may use it (%v)", info.Mode()), "chmod go= " + path})
		}
	}
	return all
}

func second[T any](_ T, err error) error { return err }
