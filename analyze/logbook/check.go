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
	"aplomb/device/lock"
	"aplomb/device/recording"
)

// Finding is one problem of a logbook.
type Finding struct {
	Where string // file or table
	What  string
	Do    string // remedy
	Fine  bool   // no problem: a program is at work there
}

func (f Finding) String() string { return f.Where + ": " + f.What + ": " + f.Do }

// TakeUnfinished is the command that imports the recordings listed by Unfinished.
const TakeUnfinished = "aplomb import --unfinished"

const (
	useBackup  = "use a backup, or rebuild the logbook from its recordings (aplomb logbook rebuild)"
	orphan     = "a correction of a recording that is in no visit"
	orphanDo   = "take that recording in, and it goes along; or remove the file"
	cutCopy    = "a copy that was cut short"
	removeFile = "remove the file"
	// measureAgain is the remedy for stored measures that cannot be read.
	measureAgain = "aplomb logbook measure measures it again"
	importFile   = "aplomb import FILE --dancer CODE --visit VISIT takes it in; or remove the file"
)

// Check checks the database, what its rows refer to, and the bytes of every recording.
// Problems are findings and no errors. It ends with the error of ctx soon after ctx is
// done.
func (l *Logbook) Check(ctx context.Context) (all []Finding, err error) {
	path := filepath.Join(l.dir, database)
	wrong, err := l.integrity(ctx)
	for _, what := range wrong {
		all = append(all, Finding{Where: path, What: what, Do: useBackup})
	}
	if err != nil || len(wrong) > 0 {
		return all, err // a damaged database is no reliable list of files
	}
	for _, err := range []error{second(l.shoes("")), second(l.strips(""))} {
		if err != nil {
			all = append(all, Finding{Where: path, What: err.Error(), Do: useBackup})
		}
	}
	kept, err := l.Recordings(Filter{})
	if err != nil {
		return all, err
	}
	for _, part := range []func() ([]Finding, error){
		func() ([]Finding, error) { return l.checkRecordings(ctx, kept) },
		l.checkUnlisted, l.checkAside, l.checkBackups,
	} {
		found, err := part()
		all = append(all, found...)
		if err != nil {
			return all, err
		}
	}
	var erasing int
	err = l.read(func(tx *sql.Tx) error { return tx.QueryRow(`SELECT count(*) FROM erasing`).Scan(&erasing) })
	if erasing > 0 {
		all = append(all, Finding{Where: path, What: "traces of what was deleted are still to be erased", Do: "close every other program that uses the logbook and open it again"})
	}
	return append(all, l.readableByOthers()...), err
}

// checkRecordings checks the files of recordings and their corrections.
func (l *Logbook) checkRecordings(ctx context.Context, kept []Recording) (all []Finding, err error) {
	first := map[string]int64{} // number of the recording by its identity
	for _, r := range kept {
		if by := recording.WrittenBy(r.Path); by != nil {
			all = append(all, beingRecorded(r.Path, by))
			continue
		}
		if other := first[r.Identity]; other != 0 {
			all = append(all, Finding{Where: r.Path, What: fmt.Sprintf("the same recording as recording %d, in another file", other),
				Do: fmt.Sprintf("erase the one that is not needed (aplomb logbook erase %d)", r.ID)})
		} else if r.Identity != "" {
			first[r.Identity] = r.ID
		}
		if to := linkedFile(r.Path); to != "" {
			all = append(all, Finding{Where: r.Path, What: fmt.Sprintf("a symbolic link to %s, which no backup holds and no erasure removes", to),
				Do: "move that file here in its place, and its correction with it"})
		}
		sum, size, err := provenance.SHA256(ctx, r.Path)
		switch {
		case ctx.Err() != nil:
			return all, ctx.Err()
		case errors.Is(err, fs.ErrNotExist):
			all = append(all, Finding{Where: r.Path, What: "the recording is missing", Do: fmt.Sprintf("put it back from a backup, or erase it (aplomb logbook erase %d)", r.ID)})
		case errors.Is(err, fs.ErrPermission):
			all = append(all, Finding{Where: r.Path, What: "this user may not read the recording", Do: "its owner has to permit it"})
		case err != nil:
			all = append(all, Finding{Where: r.Path, What: fmt.Sprintf("the recording cannot be read (%v)", err), Do: "put it back from a backup"})
		case sum != r.SHA256:
			all = append(all, Finding{Where: r.Path, What: fmt.Sprintf("the recording has changed (%d bytes, then %d)", size, r.Size),
				Do: fmt.Sprintf("put it back from a backup, or erase it (aplomb logbook erase %d)", r.ID)})
		}
	}
	for _, r := range kept {
		if err := ctx.Err(); err != nil {
			return all, err
		}
		all = append(all, l.checkCorrection(ctx, r)...)
		switch _, err := l.Releves(r.ID); {
		case errors.Is(err, ErrDamaged):
			all = append(all, Finding{Where: filepath.Join(l.dir, database), What: fmt.Sprintf("the measures of recording %d cannot be read", r.ID), Do: measureAgain})
		case err != nil && !errors.Is(err, ErrNotFound): // it may have been erased since
			return all, err
		}
	}
	return all, nil
}

// checkUnlisted checks the files in the folder of recordings that are no recordings of the
// logbook.
func (l *Logbook) checkUnlisted() (all []Finding, err error) {
	unlisted, err := l.unlisted()
	for _, name := range unlisted {
		path := filepath.Join(l.dir, recordings, name)
		by := recording.WrittenBy(path)
		switch {
		case by != nil && strings.HasSuffix(name, copying):
			all = append(all, Finding{Where: path, What: "being copied now", Do: "wait until that is done", Fine: true})
		case by != nil:
			all = append(all, beingRecorded(path, by))
		case strings.HasSuffix(name, copying):
			all = append(all, Finding{Where: path, What: cutCopy, Do: removeFile})
		case isCorrection(name):
			all = append(all, Finding{Where: path, What: orphan, Do: orphanDo})
		case strings.HasSuffix(name, writing):
			all = append(all, Finding{Where: path, What: "a second copy of a recording, cut short while it was finished", Do: "remove the file; " + TakeUnfinished + " does so as well"})
		case strings.HasSuffix(name, unfinished) && ownName.MatchString(name):
			all = append(all, Finding{Where: path, What: "a recording that was cut short, in no visit", Do: TakeUnfinished + " takes it in"})
		case ownName.MatchString(name):
			all = append(all, Finding{Where: path, What: "a finished recording that its program did not take into its visit", Do: fmt.Sprintf("%s takes it in, %.0f s after its end", TakeUnfinished, settled.Seconds())})
		default:
			all = append(all, Finding{Where: path, What: "in no visit", Do: importFile})
		}
	}
	return all, explain(l.dir, err)
}

// checkAside checks the copies of the database that a rebuild left behind.
func (l *Logbook) checkAside() (all []Finding, err error) {
	copies, err := asideCopies(l.dir)
	rebuilding := lock.Held(filepath.Join(l.dir, workLock))
	for _, path := range copies {
		switch {
		case !isUnfinished(path):
			all = append(all, Finding{Where: path, What: "a copy of the database, set aside earlier", Do: "remove it once nobody needs it"})
		case rebuilding:
			all = append(all, Finding{Where: path, What: "the logbook is being rebuilt now", Do: "wait until that is done", Fine: true})
		default:
			all = append(all, Finding{Where: path, What: "the remains of an interrupted rebuild or migration", Do: "remove it"})
		}
	}
	return all, explain(l.dir, err)
}

// checkBackups returns a finding for every unfinished backup.
func (l *Logbook) checkBackups() (all []Finding, err error) {
	backups, err := l.Backups()
	for _, b := range backups {
		if b.State == BackupUnfinished {
			all = append(all, Finding{Where: b.Unfinished(), What: "a backup that was cut short, with recordings in it", Do: "the next aplomb logbook backup removes it"})
		}
	}
	return all, err
}

// beingRecorded returns the finding about a recording that a program is making.
func beingRecorded(path string, by *lock.Holder) Finding {
	return Finding{Where: path, What: fmt.Sprintf("being recorded now (%s)", by), Do: "its program takes it in when it ends", Fine: true}
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

// readableByOthers returns a finding for everything that other users can read.
func (l *Logbook) readableByOthers() (all []Finding) {
	if runtime.GOOS == "windows" {
		return nil // modes mean nothing there
	}
	for _, path := range []string{l.dir, filepath.Join(l.dir, recordings), filepath.Join(l.dir, database)} {
		if info, err := os.Stat(path); err == nil && info.Mode()&0o077 != 0 {
			all = append(all, Finding{Where: path, What: fmt.Sprintf("others than the owner may use it (%v)", info.Mode()), Do: "chmod go= " + path})
		}
	}
	return all
}

// isCorrection reports whether a file of that name is the correction of a recording.
func isCorrection(name string) bool {
	_, is := correction.IsName(name)
	return is
}

func second[T any](_ T, err error) error { return err }
