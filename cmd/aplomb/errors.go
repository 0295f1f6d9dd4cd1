package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"unicode"
)

// errNo ends a command whose answer is no and has been printed.
var errNo = errors.New("the answer is no")

// misuse marks an error in what was typed.
type misuse struct{ error }

func (m misuse) Unwrap() error { return m.error }

func misused(format string, args ...any) error { return misuse{fmt.Errorf(format, args...)} }

// explain says an error in one line, and where the system gave it what to do.
func explain(err error) string {
	if errors.Is(err, context.Canceled) {
		return "stopped before it was done"
	}
	text := plain(strings.ReplaceAll(err.Error(), "\n", "; "))
	if do := remedy(err); do != "" {
		return text + ": " + do
	}
	return text
}

// remedy says what to do about a file that the system refused, "" where that is plain.
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
	case errors.Is(err, syscall.ENOTDIR):
		return "choose another folder"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "choose a file or folder that you may use"
	}
	return ""
}

// plain replaces control characters, with which the code of a shoe in somebody
// else's recording could play tricks on a terminal.
func plain(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return unicode.ReplacementChar
		}
		return r
	}, text)
}
