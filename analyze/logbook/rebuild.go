package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// Rebuilt says what Rebuild restored and what it could not restore.
type Rebuilt struct {
	Contents
	Aside   string    // where the former database was moved, "" where there was none
	Skipped []Finding // recordings that are not in the logbook now
	Lost    []string  // what recordings do not carry
}

// Rebuild makes a new database from the recordings in dir. It is for a logbook
// that is damaged or whose database is gone; it refuses one that is whole. A
// damaged database is set aside, not removed. When ctx is done before the end,
// nothing has changed.
//
// A recording that names no visit becomes part of the first visit of the day it
// was made on, by this machine's time zone. A recording's identity is computed
// from its file again.
func Rebuild(ctx context.Context, dir string) (Rebuilt, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return Rebuilt{}, err
	}
	if _, err := os.Stat(filepath.Join(dir, recordings)); err != nil {
		return Rebuilt{}, fmt.Errorf("logbook %s: nothing to rebuild from: %w", dir, err)
	}
	if err := needsRebuilding(ctx, dir); err != nil {
		return Rebuilt{}, err
	}
	migrations, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		return Rebuilt{}, err
	}
	path := filepath.Join(dir, database)
	fresh := asideName(path, "unfinished")
	l, err := open(dir, filepath.Base(fresh), migrations)
	if err != nil {
		return Rebuilt{}, err
	}
	result, err := l.restore(ctx)
	if e := l.Close(); err == nil {
		err = e
	}
	if err == nil {
		result.Aside, err = replace(path, fresh)
	}
	if err != nil {
		for _, ending := range databaseFiles {
			os.Remove(fresh + ending)
		}
		return Rebuilt{}, explain(dir, err)
	}
	return result, nil
}

// databaseFiles are the endings of the names of the files of one database.
var databaseFiles = [...]string{"", "-wal", "-shm"}

// needsRebuilding returns nil for a logbook whose database is damaged, gone or
// empty, and otherwise an error that says why it is not rebuilt.
func needsRebuilding(ctx context.Context, dir string) error {
	if err := checkLink(dir); err != nil {
		return err
	}
	if !Exists(dir) {
		return nil
	}
	l, err := Open(dir)
	if errors.Is(err, ErrDamaged) {
		return nil
	}
	if err != nil {
		return err
	}
	defer l.Close()
	wrong, err := l.integrity(ctx)
	if err != nil || len(wrong) > 0 {
		return err
	}
	var rows int
	err = l.read(func(tx *sql.Tx) error {
		return tx.QueryRow(`SELECT (SELECT count(*) FROM dancers) + (SELECT count(*) FROM shoes) + (SELECT count(*) FROM strips)`).Scan(&rows)
	})
	if err == nil && rows > 0 {
		err = fmt.Errorf("logbook %s: the database is whole, and rebuilding would lose what no recording carries: to do it all the same, move %s away first", dir, database)
	}
	return err
}

// replace moves the database at fresh to path and returns where the one at path
// was moved to.
func replace(path, fresh string) (old string, err error) {
	if _, err := os.Lstat(path); err == nil {
		old = asideName(path, "damaged")
		for _, ending := range databaseFiles {
			if err := os.Rename(path+ending, old+ending); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return "", err
			}
		}
	}
	if err := os.Rename(fresh, path); err != nil {
		return old, err
	}
	return old, syncFolder(filepath.Dir(path))
}

// restorable is a recording that can be restored.
type restorable struct {
	recordedFile
	meta   device.Metadata
	day    Day // of the visit
	number int // of the visit on that day
}

// restore fills an empty logbook from its folder of recordings.
func (l *Logbook) restore(ctx context.Context) (Rebuilt, error) {
	result := Rebuilt{Lost: []string{
		"of dancers: year of birth, experience, watched side, feet, notes",
		"of visits: pain, baseline marks, notes, plans, and visits without a recording",
		"shoes and strips that nothing was recorded with, whose own a pair is, and which version is the current one: now the last recorded",
		"measures: aplomb logbook measure measures again",
		"checks of strips with known weights",
		"where backups are",
	}}
	entries, err := os.ReadDir(filepath.Join(l.dir, recordings))
	if err != nil {
		return result, err
	}
	var all []restorable
	for _, e := range entries {
		if _, is := correction.IsName(e.Name()); is {
			continue // it goes with its recording
		}
		path := filepath.Join(l.dir, recordings, e.Name())
		f, err := readRestorable(ctx, path)
		if ctx.Err() != nil {
			return result, ctx.Err()
		}
		if err == nil {
			same := func(o restorable) bool { return o.sum == f.sum || o.identity == f.identity && f.identity != "" }
			if i := slices.IndexFunc(all, same); i >= 0 {
				err = fmt.Errorf("%s: the same as %s", path, all[i].name)
			}
		}
		if err != nil {
			what := strings.TrimPrefix(err.Error(), path+": ")
			result.Skipped = append(result.Skipped, Finding{path, what, takeIn})
			continue
		}
		all = append(all, f)
	}
	var identities []string
	for _, f := range all {
		identities = append(identities, f.identity)
	}
	for _, e := range entries {
		if _, is := correction.IsName(e.Name()); is && !isCorrectionOf(e.Name(), identities) {
			result.Skipped = append(result.Skipped, Finding{filepath.Join(l.dir, recordings, e.Name()), orphan, orphanDo})
		}
	}
	slices.SortStableFunc(all, func(a, b restorable) int { return a.meta.Started.Compare(b.meta.Started) })
	err = l.change(func(tx *sql.Tx) error {
		for _, f := range all {
			visit, err := f.visit(tx)
			if err != nil {
				return err
			}
			if _, err := insertRecording(tx, visit, f.recordedFile, f.meta); err != nil {
				return err
			}
		}
		result.Contents, err = contents(tx)
		return err
	})
	return result, err
}

// readRestorable reads what can be restored of the recording at path.
func readRestorable(ctx context.Context, path string) (f restorable, err error) {
	var c *recording.Correction
	if f.meta, c, err = describe(ctx, path); err != nil {
		return f, err
	}
	if f.meta.Dancer == "" {
		return f, errors.New("names no dancer")
	}
	if err := checkCode("dancer", f.meta.Dancer); err != nil {
		return f, err
	}
	f.day, f.number = DayOf(f.meta.Started.Local()), 1
	if f.meta.Visit != "" {
		if f.day, f.number, err = parseVisit(f.meta.Visit); err != nil {
			return f, err
		}
	}
	f.recordedFile, err = fileAt(ctx, path, c)
	return f, err
}

// visit returns the visit that a recording was made in. Where there is none yet,
// it makes one with the conditions that the recording names.
func (f restorable) visit(tx *sql.Tx) (id int64, err error) {
	_, err = tx.Exec(`INSERT OR IGNORE INTO dancers (code, key) VALUES (?, ?)`, f.meta.Dancer, keyOf(f.meta.Dancer))
	if err != nil {
		return 0, err
	}
	dancer, err := dancerID(tx, f.meta.Dancer)
	if err != nil {
		return 0, err
	}
	err = tx.QueryRow(`SELECT id FROM visits WHERE dancer_id = ? AND day = ? AND number = ?`, dancer, string(f.day), f.number).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	err = tx.QueryRow(`INSERT INTO visits (dancer_id, day, number) VALUES (?, ?, ?) RETURNING id`, dancer, string(f.day), f.number).Scan(&id)
	if err != nil {
		return 0, err
	}
	v := Visit{ID: id, Position: f.meta.Position, Floor: f.meta.Floor}
	if slices.Contains(Supports[:], f.meta.Support) {
		v.Support = f.meta.Support
	}
	if slices.Contains(Rises[:], f.meta.Rise) {
		v.Rise = f.meta.Rise
	}
	if m := f.meta.MassKG; m > 0 && m <= 300 {
		v.MassKG = m
	}
	return id, v.put(tx)
}
