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

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"aplomb/device/lock"
	"aplomb/device/owneronly"
)

// Backup copies the logbook with its recordings into the new folder to. A backup is
// itself a logbook: to restore it, open it. Nothing is overwritten. The logbook stores
// the path of its backups.
//
// The copy is made in a folder whose name ends in .part and is renamed when it is
// complete. When ctx is done or an error occurs, that folder is removed. A program that
// is killed leaves it, and the next Backup, also to another folder, removes it
// (BackupUnfinished).
func (l *Logbook) Backup(ctx context.Context, to string) (err error) {
	to, err = filepath.Abs(to)
	if err != nil {
		return err
	}
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return cmp.Or(err, fmt.Errorf("%s exists: choose another name for the backup", to))
	}
	if inside, err := filepath.Rel(l.dir, to); err == nil && inside != ".." && !strings.HasPrefix(inside, ".."+string(filepath.Separator)) {
		return fmt.Errorf("%s lies within the logbook: choose another place for the backup, best on another disk", to)
	}
	alone, err := work(l.dir)
	if err != nil {
		return explain(l.dir, err)
	}
	defer alone.Close()
	if err := l.removeUnfinishedBackups(); err != nil {
		return err
	}
	part := to + unfinished
	// The path is stored before the backup is made: when a dancer is erased, every backup
	// that may contain the dancer must be named.
	if _, err := l.db.Exec(`INSERT OR REPLACE INTO backups (path, made_ns) VALUES (?, ?)`, to, time.Now().UnixNano()); err != nil {
		return explain(l.dir, err)
	}
	if err := os.Mkdir(part, owneronly.Folder); err != nil {
		l.db.Exec(`DELETE FROM backups WHERE path = ?`, to)
		return fmt.Errorf("backup: %w", err)
	}
	if err := l.copyTo(ctx, part); err != nil {
		os.RemoveAll(part)
		l.db.Exec(`DELETE FROM backups WHERE path = ?`, to)
		return fmt.Errorf("backup to %s: %w", to, l.explainCopy(to, cmp.Or(ctx.Err(), err)))
	}
	return cmp.Or(os.Rename(part, to), syncFolder(filepath.Dir(to)))
}

// explainCopy is explain for an error of copying the logbook to a folder, whose disk, not
// that of the logbook, can be full. Errors of files name the file.
func (l *Logbook) explainCopy(to string, err error) error {
	var s *sqlite.Error
	switch {
	case !errors.As(err, &s):
		return err
	case s.Code()&0xFF == sqlite3.SQLITE_FULL:
		return explain(to, err)
	}
	return explain(l.dir, err)
}

// copyTo copies everything into the folder dir. The database comes first, so that
// the recordings that its copy lists exist when they are copied.
func (l *Logbook) copyTo(ctx context.Context, dir string) error {
	path := filepath.Join(dir, database)
	if err := createFiles(dir, path); err != nil {
		return err
	}
	if _, err := l.db.ExecContext(ctx, `VACUUM INTO ?`, path); err != nil {
		return err
	}
	entries, err := os.ReadDir(filepath.Join(l.dir, recordings))
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !e.Type().IsRegular() {
			continue
		}
		err := copyFile(ctx, filepath.Join(l.dir, recordings, e.Name()), filepath.Join(dir, recordings, e.Name()))
		if err != nil && !errors.Is(err, fs.ErrNotExist) { // removed since
			return err
		}
	}
	return cmp.Or(syncFile(path), syncFolder(dir))
}

// NotIn returns the recordings of the logbook whose files are not in the backup in the
// folder dir, because they are missing here or are symbolic links, which Backup does not
// follow.
func (l *Logbook) NotIn(dir string) (absent []Recording, err error) {
	all, err := l.Recordings(Filter{})
	for _, r := range all {
		if _, err := os.Lstat(filepath.Join(dir, recordings, filepath.Base(r.Path))); errors.Is(err, fs.ErrNotExist) {
			absent = append(absent, r)
		}
	}
	return absent, err
}

// removeUnfinishedBackups removes the remains of interrupted backups from disk and from
// the list, where they can be reached and contain nothing else. The caller holds the lock
// of work, so that no backup is in progress.
func (l *Logbook) removeUnfinishedBackups() error {
	all, err := l.Backups()
	if err != nil {
		return err
	}
	for _, b := range all {
		part := b.Unfinished()
		info, err := os.Lstat(part)
		if err != nil || !info.IsDir() || somethingElse(part) || os.RemoveAll(part) != nil || b.State == BackupThere {
			continue
		}
		if _, err := l.db.Exec(`DELETE FROM backups WHERE path = ?`, b.Path); err != nil {
			return explain(l.dir, err)
		}
	}
	return nil
}

// somethingElse reports whether the folder dir contains anything that no backup has.
func somethingElse(dir string) bool {
	entries, err := os.ReadDir(dir)
	return err != nil || slices.ContainsFunc(entries, func(e fs.DirEntry) bool {
		return e.Name() != recordings && !strings.HasPrefix(e.Name(), database)
	})
}

// Backup is a backup in the logbook's list.
type Backup struct {
	Path  string
	Made  time.Time // when it was begun
	State BackupState
}

// Unfinished returns the folder in which the backup is made until it is complete.
func (b Backup) Unfinished() string { return b.Path + unfinished }

// BackupState is the state of a backup on disk.
type BackupState string

const (
	BackupThere      BackupState = ""
	BackupGone       BackupState = "not there now"  // moved, removed, or on a disk that is not connected
	BackupRunning    BackupState = "being made now" // in the folder Path.part
	BackupUnfinished BackupState = "unfinished"     // it was cut short, and the folder Path.part holds what was copied
)

// stateOf returns the state of the backup to path; working reports whether a program is
// making one.
func stateOf(path string, working bool) BackupState {
	if Exists(path) {
		return BackupThere
	}
	if info, err := os.Lstat(path + unfinished); err != nil || !info.IsDir() {
		return BackupGone
	}
	if working {
		return BackupRunning
	}
	return BackupUnfinished
}

// Backups returns the backups that were begun, by time.
func (l *Logbook) Backups() (all []Backup, err error) {
	working := lock.Held(filepath.Join(l.dir, workLock))
	err = l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var b Backup
			var made int64
			err := rows.Scan(&b.Path, &made)
			b.Made, b.State = time.Unix(0, made).UTC(), stateOf(b.Path, working)
			all = append(all, b)
			return err
		}, `SELECT path, made_ns FROM backups ORDER BY made_ns, path`)
	})
	return all, err
}

// ForgetBackup removes the backup at path from the list of backups, as when it
// was destroyed. The backup itself stays as it is.
func (l *Logbook) ForgetBackup(path string) error {
	result, err := l.db.Exec(`DELETE FROM backups WHERE path = ?`, path)
	if err != nil {
		return explain(l.dir, err)
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		return cmp.Or(err, fmt.Errorf("backup %s: %w", path, ErrNotFound))
	}
	return nil
}

// backupsWith returns the backups that contain a dancer, and those that cannot be read at
// present and so may contain the dancer.
func (l *Logbook) backupsWith(code string) (found []BackupWith, err error) {
	all, err := l.Backups()
	for _, b := range all {
		part := b.Unfinished()
		if info, err := os.Lstat(part); err == nil && info.IsDir() { // the caller holds the lock of work
			found = append(found, BackupWith{part, "it was cut short: the next aplomb logbook backup removes it, or remove the folder"})
			if b.State != BackupThere {
				continue
			}
		}
		holds, err := holdsDancer(filepath.Join(b.Path, database), code)
		switch {
		case errors.Is(err, fs.ErrNotExist) && holdsRecordings(b.Path):
			found = append(found, BackupWith{b.Path, "its recordings are there and its database is gone: remove the folder, or rebuild it (aplomb logbook rebuild --logbook DIR) and erase there too"})
		case errors.Is(err, fs.ErrNotExist):
			found = append(found, BackupWith{b.Path, "it is not there now: moved, removed, or on a disk that is not connected"})
		case err != nil:
			found = append(found, BackupWith{b.Path, fmt.Sprintf("it cannot be looked into: %v", err)})
		case holds:
			found = append(found, BackupWith{Path: b.Path})
		}
	}
	return found, err
}

func holdsDancer(path, code string) (holds bool, err error) {
	if _, err := os.Stat(path); err != nil {
		return false, err
	}
	db, _, err := openUnchanged(path)
	if err != nil {
		return false, err
	}
	defer db.Close()
	err = db.QueryRow(`SELECT EXISTS (SELECT 1 FROM dancers WHERE key = ?)`, keyOf(code)).Scan(&holds)
	return holds, err
}

func syncFile(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return cmp.Or(file.Sync(), file.Close())
}
