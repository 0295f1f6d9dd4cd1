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
	"slices"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// Rebuilt lists what Rebuild restored and what it could not restore.
type Rebuilt struct {
	Contents
	Merged     bool        // into an undamaged database, which stays
	TakenIn    int         // recordings that were restored
	Aside      string      // path to which the former database was moved, "" where there was none
	Renumbered []NewNumber // recordings whose number changed, or whose former number is not known
	GoesOn     int64       // number of the next recording where numbers before it are skipped, otherwise 0
	Skipped    []Finding   // recordings that are not in the logbook now
	Lost       []string    // data that recordings do not contain
}

// NewNumber is a recording whose number changed.
type NewNumber struct {
	Number, Before int64 // Before is 0 where it is not known
	Dancer         string
	Started        time.Time
	Identity, File string
	Unwritten      error // why the number could not be written into the file; nil where it was
}

// Rebuild creates a new database from the recordings in dir, where the database there is
// damaged, lost or empty. A damaged database is moved, not removed. To an undamaged
// database, such as one that was created by mistake beside the recordings of another, it
// adds the recordings in dir that are in no visit; it is an error where there are none.
// When ctx is done before the end, the database is unchanged.
//
// A recording keeps the number in its file or, without one, its number in the former
// database or an earlier copy of it, as far as they are readable. Where the number is not
// known, or is also that of another recording, it gets a number above all known ones, in
// order of time, which is written into its file.
//
// A recording that names no visit becomes part of the first visit on its day, in this
// machine's time zone. Identities are computed again from the files.
func Rebuild(ctx context.Context, dir string) (Rebuilt, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return Rebuilt{}, err
	}
	if _, err := os.Stat(filepath.Join(dir, recordings)); err != nil {
		return Rebuilt{}, fmt.Errorf("logbook %s: nothing to rebuild from: %w", dir, err)
	}
	alone, err := work(dir)
	if err != nil {
		return Rebuilt{}, explain(dir, err)
	}
	defer alone.Close()
	if err := removeUnfinishedCopies(dir); err != nil {
		return Rebuilt{}, explain(dir, err)
	}
	whole, err := openWhole(ctx, dir)
	if err != nil {
		return Rebuilt{}, err
	}
	if whole != nil {
		result, err := whole.merge(ctx)
		return result, cmp.Or(explain(dir, err), whole.Close())
	}
	migrations, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		return Rebuilt{}, err
	}
	former := readFormerNumbers(dir)
	path := filepath.Join(dir, database)
	fresh := asideName(path, unfinishedCopy)
	result, err := restoreInto(ctx, dir, filepath.Base(fresh), migrations, former)
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

// restoreInto creates a database with the given name in dir and fills it from the folder
// of recordings. The result is a single file.
func restoreInto(ctx context.Context, dir, name string, migrations fs.FS, former formerNumbers) (Rebuilt, error) {
	l, err := open(dir, name, migrations)
	if err != nil {
		return Rebuilt{}, err
	}
	result, err := l.restore(ctx, former)
	if err == nil {
		err = l.emptyLog() // closing does it too, but does not report failure
	}
	return result, cmp.Or(err, l.Close())
}

// removeUnfinishedCopies removes the remains of interrupted rebuilds and migrations.
func removeUnfinishedCopies(dir string) error {
	copies, err := asideCopies(dir)
	for _, path := range copies {
		if isUnfinished(path) {
			err = cmp.Or(err, remove(path))
		}
	}
	return err
}

// databaseFiles are the endings of the names of the files of one database.
var databaseFiles = [...]string{"", "-wal", "-shm"}

// openWhole opens the logbook in dir if its database is undamaged, and returns nil where
// it is damaged or lost.
func openWhole(ctx context.Context, dir string) (*Logbook, error) {
	if err := checkLink(dir); err != nil {
		return nil, err
	}
	if !Exists(dir) {
		return nil, nil
	}
	l, err := Open(dir)
	if errors.Is(err, ErrDamaged) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	wrong, err := l.integrity(ctx)
	if err == nil && len(wrong) == 0 {
		err = l.Writable()
	}
	if err != nil || len(wrong) > 0 {
		return nil, cmp.Or(err, l.Close())
	}
	return l, nil
}

// replace moves the database at fresh to path and returns the path to which it moved the
// one at path.
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
	meta    device.Metadata
	day     Day   // of the visit
	ofDay   int   // number of the visit on that day
	carries int64 // the number in its file, 0 where there is none
	before  int64 // its former number, 0 where unknown
	claims  int64 // the number that it gets unless taken, 0 for any
}

// restore fills an empty logbook from its folder of recordings.
func (l *Logbook) restore(ctx context.Context, former formerNumbers) (Rebuilt, error) {
	result := Rebuilt{Lost: []string{
		"of dancers: year of birth, experience, watched side, feet, notes",
		"what dancers agree to, also that they have withdrawn: say it again before an export",
		"of visits: pain, warm-up, limits and counts of rises, choices, baseline marks, notes, plans, and visits without a recording",
		"of recordings that were put into a visit of another day: that visit; they are in one of their own day",
		"shoes and strips that nothing was recorded with, whose own a pair is, and which version is the current one: now the last recorded",
		"measures: aplomb logbook measure measures again",
		"checks of strips with known weights, and how strips agreed with reference instruments",
		"studies: what was declared, which visits belong to them, drop-outs and amendments",
		"where backups are",
	}}
	names, err := l.unlisted()
	if err != nil {
		return result, err
	}
	all, err := l.readRestorables(ctx, names, &result)
	if err != nil {
		return result, err
	}
	above := former.highest
	for i := range all {
		f := &all[i]
		if n := former.of(f.recordedFile); n != 0 {
			f.before, f.claims = n, n
		} else if former.taken[f.claims] {
			f.claims = 0
		}
		above = max(above, f.before)
	}
	gap := !former.known && above > 0
	if gap {
		// The last recordings may have been erased, so some numbers are skipped.
		above = (above/numberGap + 1) * numberGap
	}
	err = l.putBack(ctx, all, 0, above, &result)
	if err == nil && gap {
		err = l.read(func(tx *sql.Tx) (err error) {
			result.GoesOn, err = nextNumber(tx)
			return err
		})
	}
	return result, err
}

// numberGap is the multiple above which numbers continue where the numbers of erased
// recordings are not known.
const numberGap = 100

// merge adds the recordings in the folder that are in no visit to an undamaged logbook.
func (l *Logbook) merge(ctx context.Context) (Rebuilt, error) {
	result := Rebuilt{Merged: true}
	names, err := l.unlisted()
	if err != nil {
		return result, err
	}
	all, err := l.readRestorables(ctx, names, &result)
	if err != nil {
		return result, err
	}
	var given int64
	err = l.read(func(tx *sql.Tx) error {
		next, err := nextNumber(tx)
		given = next - 1
		return err
	})
	if err != nil {
		return result, err
	}
	if len(all) == 0 {
		return result, fmt.Errorf("logbook %s: the database is whole, and every recording that can be read is in it; rebuilding would lose what no recording carries: to do it all the same, move %s away first", l.dir, database)
	}
	return result, l.putBack(ctx, all, given, given, &result)
}

// readRestorables reads the recordings with those names in the folder of recordings, in
// order of time. It adds those that cannot be restored to result.Skipped.
func (l *Logbook) readRestorables(ctx context.Context, names []string, result *Rebuilt) (all []restorable, err error) {
	for _, name := range names {
		if _, is := correction.IsName(name); is {
			continue // it is read with its recording
		}
		path := filepath.Join(l.dir, recordings, name)
		if by := recording.WrittenBy(path); by != nil {
			result.Skipped = append(result.Skipped, beingRecorded(path, by))
			continue
		}
		if strings.HasSuffix(name, copying) {
			result.Skipped = append(result.Skipped, Finding{Where: path, What: cutCopy, Do: removeFile})
			continue
		}
		f, err := readRestorable(ctx, path)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err == nil {
			same := func(o restorable) bool { return o.sum == f.sum || o.identity == f.identity && f.identity != "" }
			if i := slices.IndexFunc(all, same); i >= 0 {
				err = fmt.Errorf("%s: the same as %s", path, all[i].name)
			}
		}
		if err == nil {
			err = l.read(f.checkNew)
		}
		if err != nil {
			what := strings.TrimPrefix(err.Error(), path+": ")
			result.Skipped = append(result.Skipped, Finding{Where: path, What: what, Do: importFile})
			continue
		}
		all = append(all, f)
	}
	var identities []string
	for _, f := range all {
		identities = append(identities, f.identity)
	}
	for _, name := range names {
		if _, is := correction.IsName(name); is && !isCorrectionOf(name, identities) {
			result.Skipped = append(result.Skipped, Finding{Where: filepath.Join(l.dir, recordings, name), What: orphan, Do: orphanDo})
		}
	}
	slices.SortStableFunc(all, func(a, b restorable) int { return a.meta.Started.Compare(b.meta.Started) })
	return all, nil
}

// putBack adds recordings to the logbook with their numbers, see assignNumbers.
func (l *Logbook) putBack(ctx context.Context, all []restorable, given, highest int64, result *Rebuilt) error {
	claims := make([]int64, len(all))
	for i := range all {
		claims[i] = all[i].claims
	}
	for i, number := range assignNumbers(claims, given, highest) {
		f := &all[i]
		f.number = number
		var unwritten error
		if f.carries != number && f.before != number {
			if unwritten = l.writeNumber(ctx, f); ctx.Err() != nil {
				return ctx.Err()
			}
		}
		if f.before != number {
			result.Renumbered = append(result.Renumbered, NewNumber{number, f.before, f.meta.Dancer, f.meta.Started, f.identity, f.name, unwritten})
		}
	}
	return l.change(func(tx *sql.Tx) error {
		if next, err := nextNumber(tx); err != nil || next-1 != given {
			return cmp.Or(err, fmt.Errorf("logbook %s: %w, which has just taken in a recording: try again", l.dir, ErrLocked))
		}
		for _, f := range all {
			visit, err := f.visit(tx)
			if err != nil {
				return err
			}
			if _, err := insertRecording(tx, visit, f.recordedFile, f.meta); err != nil {
				return err
			}
		}
		err := raiseNextNumber(tx, highest+1)
		if err != nil {
			return err
		}
		result.TakenIn = len(all)
		result.Contents, err = contents(tx)
		return err
	})
}

// writeNumber writes the number of a recording into its file, unless the file is
// unfinished: a program may still be recording into it.
func (l *Logbook) writeNumber(ctx context.Context, f *restorable) error {
	if strings.HasSuffix(f.name, ".part") {
		return errors.New("a recording that was not finished carries no number")
	}
	s, err := l.stage(ctx, f.recordedFile, f.meta.Started, f.number)
	if err != nil {
		return err
	}
	if s.temporary == "" {
		return errUnnumbered
	}
	if err := l.place(s); err != nil {
		l.withdraw(s)
		return err
	}
	f.recordedFile = s.recordedFile
	return nil
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
	f.day, f.ofDay = DayOf(f.meta.Started.Local()), 1
	if f.meta.Visit != "" {
		if f.day, f.ofDay, err = parseVisit(f.meta.Visit); err != nil {
			return f, err
		}
	}
	if f.recordedFile, err = fileAt(ctx, path, c); err != nil {
		return f, err
	}
	f.carries, err = recording.Number(ctx, path)
	if errors.Is(err, recording.ErrDamaged) {
		err = nil
	}
	f.before, f.claims = f.carries, f.carries
	return f, err
}

// visit returns the visit in which a recording was made. Where there is none yet, it
// creates one with the conditions of the recording.
func (f restorable) visit(tx *sql.Tx) (id int64, err error) {
	_, err = tx.Exec(`INSERT OR IGNORE INTO dancers (code, key) VALUES (?, ?)`, f.meta.Dancer, keyOf(f.meta.Dancer))
	if err != nil {
		return 0, err
	}
	dancer, err := dancerID(tx, f.meta.Dancer)
	if err != nil {
		return 0, err
	}
	err = tx.QueryRow(`SELECT id FROM visits WHERE dancer_id = ? AND day = ? AND number = ?`, dancer, string(f.day), f.ofDay).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	err = tx.QueryRow(`INSERT INTO visits (dancer_id, day, number) VALUES (?, ?, ?) RETURNING id`, dancer, string(f.day), f.ofDay).Scan(&id)
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
