package recording

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
)

// disk is where recordings are made: the computer's own, or in tests one that
// is full, fails, or forgets what was not synced.
type disk interface {
	// Create makes a new file and locks it; os.ErrExist where name is taken.
	Create(name string) (file, error)
	// Link gives a file a second name; os.ErrExist where that is taken.
	Link(name, second string) error
	Remove(name string) error
	// SyncDir puts the names in a folder on the disk.
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
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	lock(f)
	return f, nil
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

// publish gives the file at from, which is on the disk, the name to for good.
// What is at to already stays, whoever put it there and when.
func publish(d disk, from, to string) error {
	err := d.Link(from, to)
	if errors.Is(err, os.ErrExist) {
		return taken(to)
	}
	if err != nil { // no second names there, as on a memory stick with FAT
		if err := vacant(to); err != nil {
			return err
		}
		if err := os.Rename(from, to); err != nil {
			return err
		}
		return d.SyncDir(filepath.Dir(to))
	}
	return cmp.Or(d.SyncDir(filepath.Dir(to)), d.Remove(from))
}

func taken(path string) error {
	return fmt.Errorf("%s exists: move it away or choose another name", path)
}

// vacant reports that something is at path already.
func vacant(path string) error {
	_, err := os.Lstat(path)
	switch {
	case err == nil:
		return taken(path)
	case errors.Is(err, os.ErrNotExist):
		return nil
	default:
		return err
	}
}

// Vacant reports why no recording can be made at path: there is one already, or
// one that was never closed, or nothing can be written there. To know the last
// it makes a file of another name and removes it.
func Vacant(path string) error {
	if err := vacant(path); err != nil {
		return err
	}
	part := path + ".part"
	if vacant(part) != nil {
		return occupied(part)
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".aplomb-*")
	if err == nil {
		return cmp.Or(f.Close(), os.Remove(f.Name()))
	}
	if named := new(os.PathError); errors.As(err, &named) {
		named.Path = part // what it would have been
	}
	return err
}

// createPart makes a .part, and where one is there says what that is.
func createPart(d disk, part string) (file, error) {
	f, err := d.Create(part)
	if errors.Is(err, os.ErrExist) {
		return nil, occupied(part)
	}
	return f, err
}

// occupied says what the .part is that is there already.
func occupied(part string) error {
	if locked(part) {
		return fmt.Errorf("%s exists: another aplomb is recording into it; choose another name", part)
	}
	return fmt.Errorf("%s exists: a recording that was cut short, which every command reads; move it to a name of its own or choose another", part)
}
