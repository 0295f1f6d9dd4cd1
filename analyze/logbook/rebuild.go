package logbook

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"aplomb/device"
)

// Rebuilt is what Rebuild could restore and what it could not.
type Rebuilt struct {
	Holdings
	Aside   string    // where the database before went, "" where there was none
	Skipped []Finding // recordings that are not in the logbook now
	Lost    []string  // what recordings do not carry
}

// Rebuild makes a new database from the recordings in dir. It is for a logbook
// that is damaged or whose database is gone; one that is whole is not touched. A
// damaged database is set aside, not removed.
//
// A recording that names no visit goes into the first of the day it was made on,
// by this machine's time zone.
func Rebuild(dir string) (Rebuilt, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return Rebuilt{}, err
	}
	if _, err := os.Stat(filepath.Join(dir, recordings)); err != nil {
		return Rebuilt{}, fmt.Errorf("logbook %s: nothing to rebuild from: %w", dir, err)
	}
	if err := needsRebuilding(dir); err != nil {
		return Rebuilt{}, err
	}
	migrations, err := fs.Sub(shipped, "migrations")
	if err != nil {
		return Rebuilt{}, err
	}
	path := filepath.Join(dir, database)
	fresh := aside(path, "unfinished")
	l, err := open(dir, filepath.Base(fresh), migrations)
	if err != nil {
		return Rebuilt{}, err
	}
	result, err := l.restore()
	if e := l.Close(); err == nil {
		err = e
	}
	if err == nil {
		result.Aside, err = replace(path, fresh)
	}
	if err != nil {
		for _, ending := range parts {
			os.Remove(fresh + ending)
		}
		return Rebuilt{}, explain(dir, err)
	}
	return result, nil
}

// parts are the endings of the files of one database.
var parts = [...]string{"", "-wal", "-shm"}

// needsRebuilding returns nil for a logbook whose database is damaged, gone, or
// still empty, and else why it is to be left alone.
func needsRebuilding(dir string) error {
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
	wrong, err := l.soundness()
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

// replace puts the database at fresh in the place of that at path, and says
// where that one is now.
func replace(path, fresh string) (old string, err error) {
	if _, err := os.Lstat(path); err == nil {
		old = aside(path, "damaged")
		for _, ending := range parts {
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

// survivor is a recording to be restored.
type survivor struct {
	file, sum string
	size      int64
	meta      device.Metadata
	day       Day
	number    int
}

// restore fills an empty logbook from its folder of recordings.
func (l *Logbook) restore() (Rebuilt, error) {
	result := Rebuilt{Lost: []string{
		"of dancers: year of birth, experience, watched side, feet, notes",
		"of visits: pain, baseline marks, notes, plans, and visits without a recording",
		"shoes and strips that nothing was recorded with, whose own a pair is, and which version is the current one: now the last recorded",
		"measures: aplomb analyze --dancer CODE measures again",
		"where backups are",
	}}
	entries, err := os.ReadDir(filepath.Join(l.dir, recordings))
	if err != nil {
		return result, err
	}
	var all []survivor
	for _, e := range entries {
		path := filepath.Join(l.dir, recordings, e.Name())
		f, err := survivorAt(path)
		if err == nil {
			if i := slices.IndexFunc(all, func(o survivor) bool { return o.sum == f.sum }); i >= 0 {
				err = fmt.Errorf("%s: the same as %s", path, all[i].file)
			}
		}
		if err != nil {
			what := strings.TrimPrefix(err.Error(), path+": ")
			result.Skipped = append(result.Skipped, Finding{path, what, takeIn})
			continue
		}
		all = append(all, f)
	}
	slices.SortStableFunc(all, func(a, b survivor) int { return a.meta.Started.Compare(b.meta.Started) })
	err = l.change(func(tx *sql.Tx) error {
		for _, f := range all {
			visit, err := f.visit(tx)
			if err != nil {
				return err
			}
			if _, err := insertRecording(tx, visit, f.file, f.sum, f.size, f.meta); err != nil {
				return err
			}
		}
		result.Holdings, err = holdings(tx)
		return err
	})
	return result, err
}

// survivorAt reads what can be restored of the recording at path.
func survivorAt(path string) (f survivor, err error) {
	f.file = filepath.Base(path)
	if f.meta, err = describe(path); err != nil {
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
	f.sum, f.size, err = sha256Of(path)
	return f, err
}

// visit returns the visit that a recording was made in, which begins with what
// its first recording says of it.
func (f survivor) visit(tx *sql.Tx) (id int64, err error) {
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
