package logbook

import (
	"fmt"
	"os"
	"path/filepath"
)

// DatabaseLink returns the target of the logbook's database in dir where it is a symbolic
// link, otherwise "". Such a logbook can be used, but its database and its recordings are
// in two places, and copying, unplugging or removing one of them leaves half a logbook.
func DatabaseLink(dir string) string { return linkedFile(filepath.Join(dir, database)) }

// linkedFile returns the target of the file at path where it is a symbolic link,
// otherwise "".
func linkedFile(path string) string {
	to, err := os.Readlink(path)
	if err != nil {
		return ""
	}
	if !filepath.IsAbs(to) {
		to = filepath.Join(filepath.Dir(path), to)
	}
	return to
}

// checkLink returns an error where the database in dir is a symbolic link to a file that
// cannot be reached, for example on a disk that is not connected. A new database in its
// place would hide the target.
func checkLink(dir string) error {
	to := DatabaseLink(dir)
	if to == "" || Exists(dir) {
		return nil
	}
	return fmt.Errorf("logbook %s: its database %s is a symbolic link to %s, which cannot be reached: connect its disk or put it back; if it is gone for good, remove the link", dir, database, to)
}
