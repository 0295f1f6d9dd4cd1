package logbook

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Backup copies the logbook with its recordings into the new folder to, which is
// a logbook in turn: to go back to it, open it. It never writes over anything.
// The logbook remembers where its backups are.
func (l *Logbook) Backup(to string) (err error) {
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
	if err := os.Mkdir(part, 0o700); err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	// Remembered first: a backup that nobody knows of cannot be named later.
	if _, err := l.db.Exec(`INSERT OR REPLACE INTO backups (path, made_ns) VALUES (?, ?)`, to, time.Now().UnixNano()); err != nil {
		os.Remove(part)
		return explain(l.dir, err)
	}
	if err := l.copyTo(part); err != nil {
		os.RemoveAll(part)
		l.db.Exec(`DELETE FROM backups WHERE path = ?`, to)
		return fmt.Errorf("backup to %s: %w", to, explain(l.dir, err))
	}
	return cmp.Or(os.Rename(part, to), syncFolder(filepath.Dir(to)))
}

// copyTo copies everything into the folder dir: the database first, as all the
// recordings that it knows are there already.
func (l *Logbook) copyTo(dir string) error {
	path := filepath.Join(dir, database)
	if err := furnish(dir, path); err != nil {
		return err
	}
	if _, err := l.db.Exec(`VACUUM INTO ?`, path); err != nil {
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
		err := copyFile(filepath.Join(l.dir, recordings, e.Name()), filepath.Join(dir, recordings, e.Name()))
		if err != nil && !errors.Is(err, fs.ErrNotExist) { // removed since
			return err
		}
	}
	return cmp.Or(syncFile(path), syncFolder(dir))
}

// Backup is one that the logbook remembers, which does not mean it is still there.
type Backup struct {
	Path string
	Made time.Time
}

// Backups returns the backups that were made, the first at the head.
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

// ForgetBackup no longer counts with the backup at path, as when it was
// destroyed. The backup itself stays as it is.
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

// backupsWith returns the backups that hold a dancer, and those that nobody can
// look into now.
func (l *Logbook) backupsWith(code string) (held []Held, err error) {
	all, err := l.Backups()
	for _, b := range all {
		holds, err := holdsDancer(filepath.Join(b.Path, database), code)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			held = append(held, Held{b.Path, "it is not there now: moved, removed, or on a disk that is not connected"})
		case err != nil:
			held = append(held, Held{b.Path, fmt.Sprintf("it cannot be looked into: %v", err)})
		case holds:
			held = append(held, Held{Path: b.Path})
		}
	}
	return held, err
}

func holdsDancer(path, code string) (holds bool, err error) {
	if _, err := os.Stat(path); err != nil {
		return false, err
	}
	db, err := look(path)
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
