package rehearsal

import (
	"errors"
	"os"
	"path/filepath"

	"aplomb/device/lock"
)

// The name of the temporary folder of a rehearsal begins with folderPrefix. The program
// holds the lock folderLock in it for as long as it needs the folder.
const (
	folderPrefix = "aplomb-rehearsal-"
	folderLock   = "rehearsal.lock"
)

// Folder creates a temporary folder for a rehearsal, and removes those of rehearsals that
// were killed. remove removes the folder.
func Folder() (dir string, remove func() error, err error) {
	removeAbandoned(os.TempDir())
	if dir, err = os.MkdirTemp("", folderPrefix); err != nil {
		return "", nil, err
	}
	held, err := lock.Take(filepath.Join(dir, folderLock))
	if err != nil {
		return "", nil, errors.Join(err, os.RemoveAll(dir))
	}
	return dir, func() error { return errors.Join(held.Close(), os.RemoveAll(dir)) }, nil
}

// removeAbandoned removes the folders of rehearsals in a folder whose lock is free. It
// ignores those that cannot be removed, such as folders of other users.
func removeAbandoned(in string) {
	found, err := filepath.Glob(filepath.Join(in, folderPrefix+"*", folderLock))
	if err != nil {
		return // the pattern is wrong, which depends on the name of the folder
	}
	for _, path := range found {
		if info, err := os.Lstat(filepath.Dir(path)); err != nil || !info.IsDir() {
			continue
		}
		held, err := lock.Take(path)
		if err != nil { // a running rehearsal
			continue
		}
		held.Close()
		os.RemoveAll(filepath.Dir(path))
	}
}
