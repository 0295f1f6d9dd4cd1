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
	"strings"
	"time"

	"aplomb/device/owneronly"
)

// Backup copies the logbook with its recordings into the new folder to. A backup
// is a logbook: to go back to it, open it. Nothing is overwritten. The logbook
// remembers where its backups are.
//
// The copy is made in a folder whose name ends in .part and is renamed when it is
// complete. When ctx is done or an error occurs, that folder is removed; a
// program that is killed leaves it.
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
	part := to + ".part"
	if err := os.Mkdir(part, owneronly.Folder); err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	// It is remembered before it is made: when a dancer is erased, every backup
	// that may hold the dancer has to be named.
	if _, err := l.db.Exec(`INSERT OR REPLACE INTO backups (path, made_ns) VALUES (?, ?)`, to, time.Now().UnixNano()); err != nil {
		os.Remove(part)
		return explain(l.dir, err)
	}
	if err := l.copyTo(ctx, part); err != nil {
		os.RemoveAll(part)
		l.db.Exec(`DELETE FROM backups WHERE path = ?`, to)
		return fmt.Errorf("backup to %s: %w", to, explain(l.dir, cmp.Or(ctx.Err(), err)))
	}
	return cmp.Or(os.Rename(part, to), syncFolder(filepath.Dir(to)))
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

// Backup is a backup that the logbook remembers. It may have been moved or
// removed since.
type Backup struct {
	Path string
	Made time.Time
}

// Backups returns the backups that were made, by time.
func (l *Logbook) Backups() (all []Backup, err error) {
	err = l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var b Backup
			var made int64
			err := rows.Scan(&b.Path, &made)
			b.Made = time.Unix(0, made).UTC()
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

// backupsWith returns the backups that hold a dancer, and those that cannot be
// read now and so may hold the dancer.
func (l *Logbook) backupsWith(code string) (found []BackupWith, err error) {
	all, err := l.Backups()
	for _, b := range all {
		holds, err := holdsDancer(filepath.Join(b.Path, database), code)
		switch {
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
	db, err := openUnchanged(path)
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
