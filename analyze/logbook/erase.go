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

	"aplomb/device/correction"
	"aplomb/device/lock"
	"aplomb/device/recording"
)

// Erasure lists what was erased of a dancer and what may still exist.
type Erasure struct {
	Recordings int          // files removed
	Copies     []string     // earlier copies of the database in the folder that contained the dancer, and were removed
	Unread     []string     // files among the recordings that belong to no visit and cannot be read, so that their dancer is not known
	Elsewhere  []string     // files outside the folder to which recordings were symbolic links; they stay
	Carrying   []string     // files of other dancers that contain the code, since they were recorded under it and corrected later
	Backups    []BackupWith // backups that may still contain the dancer
}

// BackupWith is a backup that contains a dancer or may do so.
type BackupWith struct {
	Path string
	Why  string // "" where it does, else why that is not known
}

var errBusyReader = fmt.Errorf("%w, which still reads what was: close it; the pages are cleaned when the logbook is opened next", ErrLocked)

// DeleteDancer erases a dancer: visits, recordings with their files, measures, the
// dancer's own shoes that no other dancer wore, and every trace in the files of the folder.
// Backups stay as they are, and are listed.
//
// The error matches ErrRecording while a recording of the dancer is being made, and
// ErrLocked during a backup or a rebuild.
//
// When ctx is done before the dancer's rows are deleted, nothing has changed and the
// error is that of ctx. When it is done later (ErrTraces), or another program prevents
// traces from being erased (ErrLocked), or the disk is full (ErrTraces and ErrFull), the
// dancer is deleted and the rest is erased when the logbook is opened next. The Erasure
// is valid then too.
func (l *Logbook) DeleteDancer(ctx context.Context, code string) (Erasure, error) {
	if _, err := l.Dancer(code); err != nil {
		return Erasure{}, err
	}
	alone, err := work(l.dir)
	if err != nil {
		return Erasure{}, explain(l.dir, err)
	}
	defer alone.Close()
	var e Erasure
	if e.Copies, err = asideCopies(l.dir); err != nil {
		return Erasure{}, explain(l.dir, err)
	}
	err = l.change(func(tx *sql.Tx) error {
		id, err := dancerID(tx, code)
		if err != nil {
			return err
		}
		if err := l.refuseWhileRecording("dancer "+code+" stays", func(r running) bool { return r.of(code) }); err != nil {
			return err
		}
		// The list is made here, because a recording that was running before has finished
		// by now.
		var unlisted []string
		if unlisted, e.Unread, err = l.unlistedOf(ctx, tx, code); err != nil {
			return err
		}
		for _, file := range append(unlisted, wholeFolder) {
			if _, err := tx.Exec(`INSERT OR IGNORE INTO erasing (file) VALUES (?)`, file); err != nil {
				return err
			}
		}
		if err := l.listErasing(tx, `dancer_id = ?`, id); err != nil {
			return err
		}
		if e.Elsewhere, err = l.linkedFrom(tx); err != nil {
			return err
		}
		for _, query := range []string{
			// The dancer's own shoes become shoes that only recordings described ...
			`UPDATE shoe_versions SET entered = 0 WHERE item_id IN (SELECT id FROM shoes WHERE owner_id = ?1 AND id NOT IN (SELECT shoe_id FROM study_shoes))`,
			`DELETE FROM dancers WHERE id = ?1`,
		} {
			if _, err := tx.Exec(query, id); err != nil {
				return err
			}
		}
		if err := tx.QueryRow(`SELECT count(*) FROM erasing WHERE file <> ? AND instr(file, ?) = 0`, wholeFolder, correction.Ending).Scan(&e.Recordings); err != nil {
			return err
		}
		return dropUnused(tx) // ... and are dropped unless recordings of another dancer do.
	})
	if err != nil {
		return Erasure{}, err
	}
	switch err = l.finishErasing(ctx); {
	case ctx.Err() != nil:
		err = fmt.Errorf("logbook %s: stopped: dancer %s is deleted, %w: they are erased when the logbook is opened next", l.dir, code, ErrTraces)
	case errors.Is(err, errBusyReader):
		err = fmt.Errorf("logbook %s: %w", l.dir, err)
	case errors.Is(explain(l.dir, err), ErrFull):
		err = fmt.Errorf("logbook %s: %w: dancer %s is deleted, %w: make room, and they are erased when the logbook is opened next", l.dir, ErrFull, code, ErrTraces)
	}
	var backupErr, codeErr error
	e.Backups, backupErr = l.backupsWith(code)
	e.Carrying, codeErr = l.carriesCode(ctx, code)
	return e, explain(l.dir, cmp.Or(err, backupErr, codeErr))
}

// listErasing adds to the table erasing the files of the recordings, r, that meet a
// condition, and of their corrections.
func (l *Logbook) listErasing(tx *sql.Tx, condition string, args ...any) error {
	var files []string
	err := each(tx, func(rows *sql.Rows) error {
		var file, identity string
		if err := rows.Scan(&file, &identity); err != nil {
			return err
		}
		corrections, err := l.correctionsOf(identity)
		files = append(append(files, file), corrections...)
		return err
	}, `SELECT file, identity FROM recordings r JOIN visits v ON v.id = visit_id WHERE `+condition, args...)
	for _, file := range files {
		if err != nil {
			break
		}
		_, err = tx.Exec(`INSERT OR IGNORE INTO erasing (file) VALUES (?)`, file)
	}
	return err
}

// linkedFrom returns the targets of symbolic links among the files in the table erasing.
func (l *Logbook) linkedFrom(tx *sql.Tx) (paths []string, err error) {
	err = each(tx, func(rows *sql.Rows) error {
		var file string
		err := rows.Scan(&file)
		if to := linkedFile(filepath.Join(l.dir, recordings, file)); to != "" {
			paths = append(paths, to)
		}
		return err
	}, `SELECT file FROM erasing WHERE file <> ? ORDER BY file`, wholeFolder)
	return paths, err
}

// wholeFolder is the entry of the table erasing for pages and copies of the database.
const wholeFolder = ""

// finishErasing removes the files listed in the table erasing. The list was committed
// together with the deletion of the rows, so after a power cut it is complete.
func (l *Logbook) finishErasing(ctx context.Context) error {
	var files []string
	err := l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var file string
			err := rows.Scan(&file)
			files = append(files, file)
			return err
		}, `SELECT file FROM erasing ORDER BY file DESC`) // the whole folder at the end
	})
	if err != nil || len(files) == 0 {
		return err
	}
	scrub := false
	for _, file := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if file == wholeFolder {
			scrub = true
		} else if err := remove(filepath.Join(l.dir, recordings, filepath.Base(file))); err != nil {
			return err
		}
	}
	if err := syncFolder(filepath.Join(l.dir, recordings)); err != nil {
		return err
	}
	if _, err := l.db.Exec(`DELETE FROM erasing WHERE file <> ?`, wholeFolder); err != nil || !scrub {
		return err
	}
	copies, err := asideCopies(l.dir)
	for _, path := range copies {
		err = cmp.Or(err, remove(path))
	}
	if err := cmp.Or(err, l.scrub(ctx)); err != nil {
		return err
	}
	_, err = l.db.Exec(`DELETE FROM erasing`)
	return err
}

// scrub removes every byte of what was deleted from the database's files: it
// empties the write-ahead log, rewrites every page, and empties the log again.
func (l *Logbook) scrub(ctx context.Context) error {
	if err := l.emptyLog(); err != nil {
		return err
	}
	if _, err := l.db.ExecContext(ctx, `VACUUM`); err != nil {
		return err
	}
	return l.emptyLog()
}

func (l *Logbook) emptyLog() error {
	var busy, frames, moved int
	err := l.db.QueryRow(`PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &frames, &moved)
	if err == nil && busy != 0 {
		err = errBusyReader
	}
	return err
}

// unlistedOf finds files in the folder of recordings that are in no visit and
// name the dancer, and those that cannot be read. Files that a program is writing
// are not among them.
func (l *Logbook) unlistedOf(ctx context.Context, tx *sql.Tx, code string) (files, unread []string, err error) {
	unlisted, err := l.unlistedIn(tx)
	for _, file := range unlisted {
		path := filepath.Join(l.dir, recordings, file)
		if lock.Held(path) {
			continue
		}
		if _, is := correction.IsName(file); is {
			c, err := recording.ReadCorrection(path)
			if err != nil {
				unread = append(unread, path)
			} else if c.Mentions(func(dancer string) bool { return keyOf(dancer) == keyOf(code) }) {
				files = append(files, file)
			}
			continue
		}
		r, err := recording.Open(ctx, path)
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		if err != nil {
			unread = append(unread, path)
			continue
		}
		if keyOf(r.Meta().Dancer) == keyOf(code) {
			files = append(files, file)
			if c := r.Correction(); c != nil {
				files = append(files, filepath.Base(c.Path))
			}
		}
		r.Close()
	}
	return files, unread, err
}

// unlisted lists the names in the folder of recordings that are in no visit.
func (l *Logbook) unlisted() (names []string, err error) {
	err = l.read(func(tx *sql.Tx) error {
		names, err = l.unlistedIn(tx)
		return err
	})
	return names, err
}

// unlistedIn is unlisted within a transaction.
func (l *Logbook) unlistedIn(tx *sql.Tx) (names []string, err error) {
	// The folder is read first, so that a recording added in the meantime is not listed.
	entries, err := os.ReadDir(filepath.Join(l.dir, recordings))
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	err = each(tx, func(rows *sql.Rows) error {
		var file, identity string
		err := rows.Scan(&file, &identity)
		known[file] = true
		if identity != "" {
			known[correction.Name(identity)] = true
		}
		return err
	}, `SELECT file, identity FROM recordings`)
	for _, e := range entries {
		if known[e.Name()] {
			continue
		}
		if _, err := os.Lstat(filepath.Join(l.dir, recordings, e.Name())); err == nil { // not finished or added in the meantime
			names = append(names, e.Name())
		}
	}
	return names, err
}

// remove removes a file, if it is there.
func remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}
