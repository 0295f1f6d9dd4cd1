// Package console communicates with the person at a terminal: progress, questions,
// and errors in words.
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
)

// Explain returns an error as one line, with what to do where the system refused a
// file.
func Explain(err error) string {
	if errors.Is(err, context.Canceled) {
		return "stopped before it was done"
	}
	said := shortened(text.Plain(strings.ReplaceAll(err.Error(), "\n", "; ")))
	if do := remedy(err); do != "" {
		return said + ": " + do
	}
	return said
}

// maxExplained bounds the explanation of an error, characters. Some errors repeat what
// stands in a file.
const maxExplained = 1000

// shortened returns a text without its middle where it is longer than maxExplained.
func shortened(said string) string {
	all := []rune(said)
	if len(all) <= maxExplained {
		return said
	}
	return string(all[:maxExplained/2]) + " … " + string(all[len(all)-maxExplained/2:])
}

// remedy returns what to do about a file that the system refused, "" where that is
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
	case errors.Is(err, syscall.ENOTDIR):
		return "choose another folder"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "choose a file or folder that you may use"
	}
	return ""
}
