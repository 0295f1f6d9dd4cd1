package files

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"aplomb/device/owneronly"
)

// Access specifies who can read new files and folders: without Shared their owner alone,
// with it everybody allowed by the umask of the process.
type Access struct{ Shared bool }

// Write writes to a new file beside path and renames that to path, so that a failure
// leaves path as it was. A file that is replaced does not keep its mode.
func (a Access) Write(path string, write func(io.Writer) error) (err error) {
	part, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part") // its mode is owneronly.File
	if err != nil {
		return named(err, path)
	}
	defer func() {
		if err != nil {
			part.Close()
			os.Remove(part.Name())
		}
	}()
	if err := write(part); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := part.Close(); err != nil {
		return named(err, path)
	}
	if err := a.Apply(part.Name()); err != nil {
		return named(err, path)
	}
	return os.Rename(part.Name(), path)
}

// MkdirAll makes the folder dir and those above it that do not exist.
func (a Access) MkdirAll(dir string) error {
	mode := owneronly.Folder
	if a.Shared {
		mode = fs.ModePerm // less what the umask takes away
	}
	return os.MkdirAll(dir, mode)
}

// Apply makes the file at path, which only its owner can read, readable by others if a is
// shared.
func (a Access) Apply(path string) error {
	if !a.Shared {
		return nil
	}
	mode, err := usualMode(filepath.Dir(path))
	if err != nil {
		return named(err, path)
	}
	return os.Chmod(path, mode)
}

// usualMode returns the mode that the system gives a new file in dir by default. It
// creates a file for that and removes it, because reading the umask of the process
// requires changing it, for every goroutine.
func usualMode(dir string) (fs.FileMode, error) {
	file, err := os.OpenFile(filepath.Join(dir, ".aplomb-"+rand.Text()[:8]), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return 0, err
	}
	defer os.Remove(file.Name())
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return 0, err
	}
	return info.Mode().Perm(), nil
}

// named replaces the path of a temporary file in an error of the system by path.
func named(err error, path string) error {
	if p := new(fs.PathError); errors.As(err, &p) {
		p.Path = path
	}
	return err
}
