package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/device"
)

// profile is where the profile of a strip is kept, a file or the logbook.
type profile struct {
	name string // in what is said about it
	read func() (*device.Strip, error)
	// replace returns what puts s in the place of what was read, or why that
	// cannot be done.
	replace func(s *device.Strip) (write func() error, err error)
}

// isFile says whether what was typed for a strip or a shoe means a file: one that
// is there, or one that by its name ought to be.
func isFile(typed string) bool {
	info, err := os.Stat(typed)
	return err == nil && !info.IsDir() || strings.HasSuffix(typed, ".toml")
}

// profileInFile is a profile in a file, in which notes and order stay as they are.
func profileInFile(path string) profile {
	var before []byte
	return profile{
		name: path,
		read: func() (_ *device.Strip, err error) {
			if before, err = os.ReadFile(path); err != nil {
				return nil, fmt.Errorf("strip profile: %w", err)
			}
			return device.ParseStrip(path, before)
		},
		replace: func(s *device.Strip) (func() error, error) {
			now, err := device.Rewrite(path, before, s)
			return func() error { return replaceFile(path, before, now) }, err
		},
	}
}

// profileInBook is a profile in the logbook, which is open only while it is used.
func profileInBook(b *book, name string) profile {
	var before logbook.Strip
	return profile{
		name: fmt.Sprintf("strip %s in the logbook", name),
		read: func() (*device.Strip, error) {
			err := b.with(func(l *logbook.Logbook) (err error) {
				before, err = l.Strip(name)
				return listed(err, "aplomb strip list")
			})
			s := before.Strip
			return &s, err
		},
		replace: func(s *device.Strip) (func() error, error) {
			return func() error {
				return b.with(func(l *logbook.Logbook) error {
					now, err := l.Strip(name)
					if err != nil {
						return err
					}
					if device.TOML(&now.Strip) != device.TOML(&before.Strip) {
						return fmt.Errorf("strip %s was changed meanwhile and stays as it is: start again", name)
					}
					return l.EditStrip(*s)
				})
			}, s.Check()
		},
	}
}

// with does something to the logbook that is there.
func (b *book) with(do func(*logbook.Logbook) error) error {
	l, err := b.open()
	if err != nil {
		return err
	}
	return errors.Join(do(l), l.Close())
}

// replaceFile puts now in the place of a file that still is as before, whole or not
// at all: on to the disk beside it first, and then renamed.
func replaceFile(path string, before, now []byte) error {
	path, err := filepath.EvalSymlinks(path)
	if err != nil {
		return err
	}
	there, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	if string(there) != string(before) {
		return fmt.Errorf("%s was changed meanwhile and stays as it is: start again", path)
	}
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	part, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return err
	}
	_, err = part.Write(now)
	err = errors.Join(err, part.Chmod(info.Mode().Perm()), part.Sync(), part.Close())
	if err == nil {
		err = os.Rename(part.Name(), path)
	}
	if err != nil {
		os.Remove(part.Name())
		return err
	}
	if dir, err := os.Open(filepath.Dir(path)); err == nil { // the new name has to last as well, where the system has that
		_ = dir.Sync()
		dir.Close()
	}
	return nil
}
