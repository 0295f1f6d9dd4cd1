// Package console communicates with the user at a terminal: progress, questions, and
// errors in words.
package console

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"aplomb/cmd/internal/text"
	"aplomb/device/input"
	"aplomb/device/lock"
	"aplomb/device/recording"
)

// Remedy is an error with a remedy, which follows its text after a colon.
type Remedy struct {
	Err error
	Do  string
}

func (r *Remedy) Error() string { return r.Err.Error() + ": " + r.Do }
func (r *Remedy) Unwrap() error { return r.Err }

// Explain returns an error as one line, with the remedy where the system refused access
// to a file.
func Explain(err error) string {
	what, do := Parts(err)
	if do != "" {
		return what + ": " + do
	}
	return what
}

// Parts returns the text of Explain in two parts: the error and the remedy. do is ""
// where there is none, or where what contains it.
func Parts(err error) (what, do string) {
	if errors.Is(err, context.Canceled) {
		return "stopped before it was done", ""
	}
	what = shortened(text.Plain(strings.ReplaceAll(err.Error(), "\n", "; ")))
	var r *Remedy
	if errors.As(err, &r) && strings.HasSuffix(what, ": "+text.Plain(r.Do)) {
		do = text.Plain(r.Do)
		return strings.TrimSuffix(what, ": "+do), do
	}
	return what, remedy(err)
}

// File returns the path of the file that an error is about, "" where it is about none, or
// where that is not known.
func File(err error) string {
	var (
		path   *fs.PathError
		link   *os.LinkError
		record *recording.FileError
		kind   *input.KindError
		held   *lock.HeldError
	)
	switch {
	case errors.As(err, &record):
		return record.Path
	case errors.As(err, &path):
		return path.Path
	case errors.As(err, &link):
		return link.New
	case errors.As(err, &kind):
		return kind.Path
	case errors.As(err, &held):
		return held.Path
	}
	return ""
}

// maxExplained bounds the explanation of an error, characters. Some errors repeat the
// contents of a file.
const maxExplained = 1000

// shortened returns a text without its middle where it is longer than maxExplained.
func shortened(said string) string {
	all := []rune(said)
	if len(all) <= maxExplained {
		return said
	}
	return string(all[:maxExplained/2]) + " … " + string(all[len(all)-maxExplained/2:])
}

// remedy returns the remedy where the system refused access to a file, "" where that is
// obvious.
func remedy(err error) string {
	if errors.Is(err, syscall.ENOSPC) {
		return "make room"
	}
	path := ""
	var p *fs.PathError
	var l *os.LinkError
	switch {
	case errors.As(err, &p):
		path = p.Path
	case errors.As(err, &l):
		path = l.New
	default:
		return ""
	}
	dir := filepath.Dir(path)
	_, missing := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist) && errors.Is(missing, fs.ErrNotExist):
		return fmt.Sprintf("there is no folder %s", dir)
	case errors.Is(err, fs.ErrNotExist):
		return "is the name right?"
	case errors.Is(err, syscall.EISDIR):
		return "name a file"
	case errors.Is(err, syscall.EFBIG):
		return "this disk or this user may have no file of that size: use another disk"
	case errors.Is(err, syscall.ELOOP):
		return "remove one of the links"
	case errors.Is(err, syscall.ENOTDIR):
		return "choose another folder"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "choose a file or folder that you may use"
	}
	return ""
}
