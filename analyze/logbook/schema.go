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

// readSteps reads the migrations in order. The first creates version 1 in an empty
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

// openUnchanged opens the database at path in such a way that closing it leaves every
// file unchanged, including the log of a program that ended during a change. It reports
// whether the connection can write.
func openUnchanged(path string) (db *sql.DB, writes bool, err error) {
	if !canWrite(path) {
		db, err = openCopy(path)
		return db, false, err
	}
	// A connection that can write moves the log into the database when it is
	// closed and removes the log; one that cannot write leaves an empty log
	// where there was none.
	mode := "rw"
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		mode = "ro"
	}
	db, err = connect(path, mode, settings...)
	return db, mode == "rw", err
}

// settings of a connection to a logbook; none of them changes a file.
var settings = []string{
	"foreign_keys(1)",
	"secure_delete(1)",
	"temp_store(memory)", // nothing of a dancer in the system's temporary folder
	"synchronous(full)",  // a change that was reported done survives a power cut
}

// versionIn returns the version of the logbook in db, the database at path: 0 where it is
// empty; ErrForeign where it is no logbook, and ErrDamaged where tables are missing.
func versionIn(db *sql.DB, path string) (version int, err error) {
	var mark, all, ours int
	err = db.QueryRow(`SELECT (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version),
		(SELECT count(*) FROM sqlite_schema),
		(SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name IN ('dancers', 'visits', 'recordings', 'recorded_feet'))`).Scan(&mark, &version, &all, &ours)
	switch {
	case err != nil:
		return 0, err
	case mark != applicationID && (mark != 0 || version != 0 || all != 0):
		return 0, fmt.Errorf("%s: %w: choose another folder", path, ErrForeign)
	case mark == applicationID && ours < 4:
		return 0, errLost(filepath.Dir(path), "has lost its tables")
	}
	return version, nil
}

// checkVersion returns ErrNewer for a version above the newest that this program
// reads.
func checkVersion(dir string, version, newest int) error {
	if version > newest {
		return fmt.Errorf("logbook %s: %w (version %d, this one reads up to %d): use the newer program", dir, ErrNewer, version, newest)
	}
	return nil
}

// migrate updates the database from a version to the newest one, with all steps or none.
// It copies a database that is not empty first.
func (l *Logbook) migrate(from int, steps []string) error {
	if from == len(steps) {
		return nil
	}
	aside := ""
	if from > 0 && !l.readOnly {
		var err error
		if aside, err = l.setAside(fmt.Sprintf("version-%d", from)); err != nil {
			return fmt.Errorf("setting a copy aside: %w", err)
		}
	}
	migrated := false // by another program, in the meantime
	err := l.commit(func(tx *sql.Tx) error {
		if err := tx.QueryRow(`PRAGMA user_version`).Scan(&from); err != nil {
			return err
		}
		migrated = from == len(steps)
		for ; from < len(steps); from++ {
			if _, err := tx.Exec(steps[from]); err != nil {
				return fmt.Errorf("bringing it to version %d: %w", from+1, err)
			}
		}
		// A PRAGMA takes no parameters; both values are numbers of this program.
		_, err := tx.Exec(fmt.Sprintf(`PRAGMA user_version = %d; PRAGMA application_id = %d`, from, applicationID))
		return err
	})
	if err == nil && migrated && aside != "" {
		return os.Remove(aside) // that program has made one too
	}
	return err
}

// setAside makes a copy of the database beside it and returns its path. The copy gets
// its name when it is whole and on the disk, which VACUUM INTO does not see to.
func (l *Logbook) setAside(why string) (path string, err error) {
	path = filepath.Join(l.dir, database)
	unfinished, path := asideName(path, unfinishedCopy), asideName(path, why)
	if err := createEmpty(unfinished); err != nil {
		return "", err
	}
	if _, err = l.db.Exec(`VACUUM INTO ?`, unfinished); err == nil {
		err = syncFile(unfinished)
	}
	if err == nil {
		err = os.Rename(unfinished, path)
	}
	if err != nil {
		os.Remove(unfinished)
		return "", err
	}
	return path, syncFolder(l.dir)
}

// asideName returns a name for a copy of the database at path that is kept beside it.
func asideName(path, why string) string {
	return fmt.Sprintf("%s.%s-%s-%s", path, why, time.Now().UTC().Format("20060102T150405Z"), rand.Text()[:6])
}

// unfinishedCopy marks a copy of the database that a rebuild or a migration has not
// finished.
const unfinishedCopy = "unfinished"

// isUnfinished reports whether a path from asideCopies is the unfinished result of a
// rebuild or a migration.
func isUnfinished(path string) bool {
	return strings.HasPrefix(filepath.Base(path), database+"."+unfinishedCopy+"-")
}

// asideCopies lists the copies of the database in dir that were kept beside it.
func asideCopies(dir string) (paths []string, err error) {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		rest, ok := strings.CutPrefix(e.Name(), database+".")
		why, _, _ := strings.Cut(rest, "-")
		if ok && (why == "version" || why == "damaged" || why == unfinishedCopy) {
			paths = append(paths, filepath.Join(dir, e.Name()))
		}
	}
	return paths, err
}
