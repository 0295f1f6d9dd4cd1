package recording

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"

	"aplomb/device/lock"
	"aplomb/device/owneronly"
)

// disk is the part of a file system that a recording needs. Tests replace it by one that
// is full, fails, or loses unsynced data.
type disk interface {
	// Create creates a file that its owner alone can read, and locks it; os.ErrExist
	// where name is taken.
	Create(name string) (file, error)
	// Link gives a file a second name; os.ErrExist where that is taken.
	Link(name, second string) error
	Remove(name string) error
	// SyncDir syncs the names in a folder to the disk.
	SyncDir(dir string) error
}

// file is an open file that is written from beginning to end, and can be read
// meanwhile.
type file interface {
	io.Writer
	io.ReaderAt
	io.Closer
	Stat() (os.FileInfo, error)
	Sync() error
}

// system is the disk of the operating system.
type system struct{}

func (system) Create(name string) (file, error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, owneronly.File)
	if err != nil {
		return nil, err
	}
	lock.Mark(f)
	return markedFile{f}, nil
}

// markedFile is a file that is marked as in use until it is closed.
type markedFile struct{ *os.File }

func (f markedFile) Close() error {
	lock.Unmark(f.File)
	return f.File.Close()
}

func (system) Link(name, second string) error { return os.Link(name, second) }

func (system) Remove(name string) error { return os.Remove(name) }

func (system) SyncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil // a folder cannot be synced there
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return cmp.Or(d.Sync(), d.Close())
}

// publish renames a file that has been synced. It never replaces an existing file at to,
// even one created at the same time. Where the new name cannot be synced to the disk, from
// stays as well, unless the disk has no hard links.
func publish(d disk, from, to string) error {
	err := d.Link(from, to)
	if errors.Is(err, os.ErrExist) {
		return errExists(to)
	}
	if err != nil { // no hard links, as on a memory stick with FAT
		if err := checkFree(to); err != nil {
			return err
		}
		if err := os.Rename(from, to); err != nil {
			return err
		}
		return d.SyncDir(filepath.Dir(to))
	}
	if err := d.SyncDir(filepath.Dir(to)); err != nil {
		return err
	}
	return d.Remove(from)
}

func errExists(path string) error {
	return fmt.Errorf("%s %w: move it away or choose another name", path, ErrExists)
}

// checkFree returns an error that matches ErrExists where there is a file at path.
func checkFree(path string) error {
	_, err := os.Lstat(path)
	switch {
	case err == nil:
		return errExists(path)
	case errors.Is(err, os.ErrNotExist):
		return nil
	default:
		return err
	}
}

// CheckPath reports why no recording can be created at path: a recording or its .part
// exists, or the folder is not writable. To determine that it creates a file with another
// name and removes it. Errors are as those of Create.
func CheckPath(path string) error {
	if err := checkFree(path); err != nil {
		return err
	}
	part := path + ".part"
	if checkFree(part) != nil {
		return errPartExists(part)
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".aplomb-*")
	if err == nil {
		return cmp.Or(f.Close(), os.Remove(f.Name()))
	}
	if pathError := new(os.PathError); errors.As(err, &pathError) {
		pathError.Path = part // and not the temporary file
	}
	return err
}

// createPart creates a .part. Where one exists the error describes it.
func createPart(d disk, part string) (file, error) {
	f, err := d.Create(part)
	if errors.Is(err, os.ErrExist) {
		return nil, errPartExists(part)
	}
	return f, err
}

// errPartExists returns the error that describes an existing .part.
func errPartExists(part string) error {
	if by := WrittenBy(part); by != nil {
		return fmt.Errorf("%s exists: %w (%s); choose another name", part, ErrInUse, by)
	}
	return fmt.Errorf("%s %w: a recording that was cut short, which every command reads; move it to a name of its own or choose another", part, ErrExists)
}
