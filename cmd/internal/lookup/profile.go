package lookup

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/analyze/scale"
	"aplomb/device"
	"aplomb/device/input"
)

// Profile is the stored profile of a strip: in a file or the logbook.
type Profile struct {
	Name string // for messages
	Read func() (*device.Strip, error)
	// Replace returns the function that writes s over the profile that was read, or the
	// reason why s cannot be written. Writing fails where the profile has changed since
	// it was read.
	Replace func(s *device.Strip) (write func() error, err error)
	// PutCheck stores a check made with the profile that was read, and returns where it
	// is stored. It is nil where checks cannot be stored.
	PutCheck func(c scale.Check) (where string, err error)
}

// IsFile reports whether the name typed for a strip or a shoe means a file: one
// that exists, or a name with the ending of profiles.
func IsFile(typed string) bool {
	info, err := os.Stat(typed)
	return err == nil && !info.IsDir() || strings.HasSuffix(typed, ".toml")
}

// ProfileInFile returns the profile in a file. Writing it leaves the comments and
// the order in the file as they are.
func ProfileInFile(path string) Profile {
	var before []byte
	return Profile{
		Name: path,
		Read: func() (_ *device.Strip, err error) {
			if before, err = input.ReadFile(context.Background(), path, input.MaxProfile); err != nil {
				return nil, fmt.Errorf("strip profile: %w", err)
			}
			return device.ParseStrip(path, before)
		},
		Replace: func(s *device.Strip) (func() error, error) {
			now, err := device.Rewrite(path, before, s)
			return func() error { return replaceFile(path, before, now) }, err
		},
	}
}

// ProfileInLogbook returns the profile of a strip in the logbook.
func ProfileInLogbook(folder *Folder, name string) Profile {
	var before logbook.Strip
	return Profile{
		Name: fmt.Sprintf("strip %s in the logbook", name),
		Read: func() (*device.Strip, error) {
			err := folder.With(func(l *logbook.Logbook) (err error) {
				before, err = l.Strip(name)
				return Hint(err, "aplomb strip list")
			})
			s := before.Strip
			return &s, err
		},
		Replace: func(s *device.Strip) (func() error, error) {
			return func() error {
				return folder.With(func(l *logbook.Logbook) error {
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
		PutCheck: func(c scale.Check) (where string, err error) {
			err = folder.With(func(l *logbook.Logbook) error {
				c.Strip = before.Name
				version, err := l.AddStripCheck(before.Strip, c)
				where = fmt.Sprintf("strip %s, version %d, in the logbook", before.Name, version)
				return err
			})
			return where, err
		},
	}
}

// replaceFile overwrites a file that still contains before with now. It writes and syncs
// a new file beside it and renames that, so that a crash leaves no incomplete file.
func replaceFile(path string, before, now []byte) error {
	path, err := filepath.EvalSymlinks(path)
	if err != nil {
		return err
	}
	there, err := input.ReadFile(context.Background(), path, input.MaxProfile)
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
	if dir, err := os.Open(filepath.Dir(path)); err == nil { // keeps the new name through a power cut, where the system can
		_ = dir.Sync()
		dir.Close()
	}
	return nil
}
