package logbook

import (
	"crypto/rand"
	"database/sql"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// readSteps reads the migrations in order. The first makes version 1 of an empty
// database, each of the others the next version.
func readSteps(migrations fs.FS) ([]string, error) {
	names, err := fs.Glob(migrations, "*.sql") // sorted
	if err != nil {
		return nil, err
	}
	var steps []string
	for i, name := range names {
		var n int
		if _, err := fmt.Sscanf(name, "%03d_", &n); err != nil || n != i+1 {
			return nil, fmt.Errorf("migration %s: expected number %03d", name, i+1)
		}
		step, err := fs.ReadFile(migrations, name)
		if err != nil {
			return nil, err
		}
		steps = append(steps, string(step))
	}
	return steps, nil
}

// openUnchanged opens the database at path such that closing it leaves every file
// as it was, also the log of a program that ended in the middle of a change.
func openUnchanged(path string) (*sql.DB, error) {
	// A connection that can write moves the log into the database when it is
	// closed and removes the log; one that cannot write leaves an empty log
	// where there was none.
	mode := "rw"
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		mode = "ro"
	}
	return connect(path, mode)
}

// versionOf returns the version of the logbook at path, 0 where it is still
// empty, without changing anything.
func versionOf(path string) (version int, err error) {
	db, err := openUnchanged(path)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	var mark, tables int
	err = db.QueryRow(`SELECT (SELECT application_id FROM pragma_application_id),
		(SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)`).Scan(&mark, &version, &tables)
	if err == nil && mark != applicationID && (mark != 0 || version != 0 || tables != 0) {
		err = fmt.Errorf("%s: %w: choose another folder", path, ErrForeign)
	}
	return version, err
}

// migrate brings the database from a version to the newest one, with all steps or
// none. It copies a database that is not empty first.
func (l *Logbook) migrate(from int, steps []string) error {
	if from == len(steps) {
		return nil
	}
	if from > 0 {
		aside := asideName(filepath.Join(l.dir, database), fmt.Sprintf("version-%d", from))
		if err := createEmpty(aside); err != nil {
			return fmt.Errorf("setting a copy aside: %w", err)
		}
		if _, err := l.db.Exec(`VACUUM INTO ?`, aside); err != nil {
			os.Remove(aside)
			return fmt.Errorf("setting a copy aside: %w", err)
		}
	}
	return l.change(func(tx *sql.Tx) error {
		// Another program may have done it since.
		if err := tx.QueryRow(`PRAGMA user_version`).Scan(&from); err != nil {
			return err
		}
		for ; from < len(steps); from++ {
			if _, err := tx.Exec(steps[from]); err != nil {
				return fmt.Errorf("bringing it to version %d: %w", from+1, err)
			}
		}
		// A PRAGMA takes no parameters; both values are numbers of this program.
		_, err := tx.Exec(fmt.Sprintf(`PRAGMA user_version = %d; PRAGMA application_id = %d`, from, applicationID))
		return err
	})
}

// asideName returns a name for a copy of the database at path that is set aside.
func asideName(path, why string) string {
	return fmt.Sprintf("%s.%s-%s-%s", path, why, time.Now().UTC().Format("20060102T150405Z"), rand.Text()[:6])
}

// asideCopies lists the copies of the database in dir that were set aside.
func asideCopies(dir string) (paths []string, err error) {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		rest, ok := strings.CutPrefix(e.Name(), database+".")
		why, _, _ := strings.Cut(rest, "-")
		if ok && (why == "version" || why == "damaged" || why == "unfinished") {
			paths = append(paths, filepath.Join(dir, e.Name()))
		}
	}
	return paths, err
}
