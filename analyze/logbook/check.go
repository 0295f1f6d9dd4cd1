package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"aplomb/analyze/provenance"
	"aplomb/device/correction"
)

// Finding is one thing that is wrong with a logbook.
type Finding struct {
	Where string // file or table
	What  string
	Do    string // what to do about it
}

func (f Finding) String() string { return f.Where + ": " + f.What + ": " + f.Do }

const (
	useBackup  = "use a backup, or rebuild the logbook from its recordings (aplomb logbook rebuild)"
	orphan     = "a correction of a recording that is in no visit"
	orphanDo   = "take that recording in, and it goes along; or remove the file"
	cutCopy    = "a copy that was cut short"
	removeFile = "remove the file"
	takeIn     = "aplomb import FILE --dancer CODE --visit VISIT takes it in; or remove the file"
)

// Check checks the database, what its rows refer to, and the bytes of every
// recording. What is wrong is a finding and no error. It ends with the error of
// ctx soon after ctx is done.
func (l *Logbook) Check(ctx context.Context) (all []Finding, err error) {
	path := filepath.Join(l.dir, database)
	wrong, err := l.integrity(ctx)
	for _, what := range wrong {
		all = append(all, Finding{path, what, useBackup})
	}
	if err != nil || len(wrong) > 0 {
		return all, err // what a damaged database says of files cannot be relied on
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
	first := map[string]int64{} // number of the recording by its identity
	for _, r := range kept {
		if other := first[r.Identity]; other != 0 {
			all = append(all, Finding{r.Path, fmt.Sprintf("the same recording as recording %d, in another file", other),
				fmt.Sprintf("erase the one that is not needed (aplomb logbook erase %d)", r.ID)})
		} else if r.Identity != "" {
			first[r.Identity] = r.ID
		}
		sum, size, err := provenance.SHA256(ctx, r.Path)
		switch {
		case ctx.Err() != nil:
			return all, ctx.Err()
		case errors.Is(err, fs.ErrNotExist):
			all = append(all, Finding{r.Path, "the recording is missing", fmt.Sprintf("put it back from a backup, or erase it (aplomb logbook erase %d)", r.ID)})
		case err != nil:
			all = append(all, Finding{r.Path, fmt.Sprintf("the recording cannot be read (%v)", err), "put it back from a backup"})
		case sum != r.SHA256:
			all = append(all, Finding{r.Path, fmt.Sprintf("the recording is not what it was (%d bytes, then %d)", size, r.Size),
				fmt.Sprintf("put it back from a backup, or erase it (aplomb logbook erase %d)", r.ID)})
		}
	}
	for _, r := range kept {
		if err := ctx.Err(); err != nil {
			return all, err
		}
		all = append(all, l.checkCorrection(ctx, r)...)
	}
	unlisted, err := l.unlisted()
	for _, name := range unlisted {
		f := Finding{filepath.Join(l.dir, recordings, name), "in no visit", takeIn}
		if strings.HasSuffix(name, copying) {
			f.What, f.Do = cutCopy, removeFile
		} else if _, is := correction.IsName(name); is {
			f.What, f.Do = orphan, orphanDo
		}
		all = append(all, f)
	}
	if err != nil {
		return all, explain(l.dir, err)
	}
	copies, err := asideCopies(l.dir)
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
	return append(all, l.readableByOthers()...), err
}

// integrity returns what SQLite finds wrong with the database.
func (l *Logbook) integrity(ctx context.Context) (wrong []string, err error) {
	err = l.read(func(tx *sql.Tx) error {
		err := eachContext(ctx, tx, func(rows *sql.Rows) error {
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
		return eachContext(ctx, tx, func(rows *sql.Rows) error {
			var table, parent string
			var row sql.NullInt64
			var n int
			err := rows.Scan(&table, &row, &parent, &n)
			wrong = append(wrong, fmt.Sprintf("row %d of %s points at a row of %s that is not there", row.Int64, table, parent))
			return err
		}, `PRAGMA foreign_key_check`)
	})
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if errors.Is(err, ErrDamaged) {
		return append(wrong, "SQLite cannot read all of it"), nil
	}
	return wrong, err
}

// readableByOthers lists what others than the owner can read.
func (l *Logbook) readableByOthers() (all []Finding) {
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
