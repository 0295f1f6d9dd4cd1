// Package lookup finds what the user names: the logbook, and in it visits, recordings,
// shoes and strips' profiles, which may also be files.
package lookup

import (
	"errors"
	"fmt"
	"io"
	"os"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
)

// Folder is the folder of the logbook of a command line. The logbook is open only while
// it is used.
type Folder struct {
	Named string // the folder's path; "" for that of the environment, or else in the user's data folder
	// Remarks returns where remarks on the logbook are written; nil for nowhere.
	Remarks func() io.Writer

	remarked bool
}

// Dir returns the path of the folder, whether or not it exists.
func (f *Folder) Dir() (string, error) {
	if f.Named != "" {
		return f.Named, nil
	}
	return logbook.DefaultDir(os.Getenv)
}

// Exists reports whether there is a logbook.
func (f *Folder) Exists() bool {
	dir, err := f.Dir()
	return err == nil && logbook.Exists(dir)
}

// Open opens a logbook that exists.
func (f *Folder) Open() (*logbook.Logbook, error) {
	dir, err := f.Dir()
	if err != nil {
		return nil, err
	}
	if !logbook.Exists(dir) {
		if info, err := os.Stat(dir); err == nil && !info.IsDir() {
			return nil, fmt.Errorf("logbook %s: a file, and no folder", dir)
		}
		if err := logbook.CheckDatabase(dir); err != nil {
			return nil, err
		}
		return nil, &console.Remedy{Err: fmt.Errorf("no logbook in %s", dir), Do: "begin one with aplomb dancer add CODE, or name another with --logbook"}
	}
	l, err := logbook.Open(dir)
	if err == nil {
		f.remark(l)
	}
	return l, err
}

// remark writes once what the user should know about the opened logbook.
func (f *Folder) remark(l *logbook.Logbook) {
	if f.Remarks == nil || f.remarked {
		return
	}
	f.remarked = true
	var all []string
	if to := logbook.DatabaseLink(l.Dir()); to != "" {
		all = append(all, fmt.Sprintf("the database of logbook %s is a symbolic link to %s: to copy, unplug or remove only one of the two leaves half a logbook; move the whole folder instead, and name it with --logbook", l.Dir(), to))
	}
	switch left, err := l.Unfinished(); {
	case err != nil: // later reads return the same error
	case len(left) == 1:
		all = append(all, fmt.Sprintf("a recording was left unfinished in the logbook: %s takes it in", logbook.TakeUnfinished))
	case len(left) > 1:
		all = append(all, fmt.Sprintf("%d recordings were left unfinished in the logbook: %s takes them in", len(left), logbook.TakeUnfinished))
	}
	text.Warnings(f.Remarks(), all)
}

// begin opens the logbook, or makes one and writes that to w.
func (f *Folder) begin(w io.Writer) (*logbook.Logbook, error) {
	dir, err := f.Dir()
	if err != nil {
		return nil, err
	}
	fresh := !logbook.Exists(dir)
	l, err := logbook.Open(dir)
	if err == nil {
		f.remark(l)
		if err := l.Writable(); err != nil {
			return nil, errors.Join(err, l.Close())
		}
	}
	if err == nil && fresh {
		fmt.Fprintf(w, "a new logbook, in %s\n", l.Dir())
	}
	return l, err
}

// With calls do with the logbook open. The logbook must exist. Where the logbook refuses
// a value it returns a usage error.
func (f *Folder) With(do func(*logbook.Logbook) error) error {
	l, err := f.Open()
	if err != nil {
		return err
	}
	return errors.Join(toUsageError(do(l)), l.Close())
}

// BeginWith is With that creates a logbook where none exists, and reports that to w.
func (f *Folder) BeginWith(w io.Writer, do func(*logbook.Logbook) error) error {
	l, err := f.begin(w)
	if err != nil {
		return err
	}
	return errors.Join(toUsageError(do(l)), l.Close())
}

// toUsageError returns a usage error where err is that the logbook refuses a value,
// and otherwise err.
func toUsageError(err error) error {
	if errors.Is(err, logbook.ErrInvalid) {
		return usage.New(err)
	}
	return err
}

// Hint adds to an error that something is not in the logbook the command that lists its
// contents.
func Hint(err error, command string) error {
	if errors.Is(err, logbook.ErrNotFound) {
		return &console.Remedy{Err: err, Do: command + " shows what is"}
	}
	return err
}
