// Package files writes files that their owner alone can read, without damaging existing
// files.
package files

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"aplomb/device/input"
)

// CheckVacant returns an error where no file can be created at path, because something
// exists there or its folder does not. It is called before the work whose result is
// written there.
func CheckVacant(path string) error {
	_, err := os.Lstat(path)
	if err == nil {
		return fmt.Errorf("%s exists: move it away or choose another name", path)
	}
	if !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, syscall.ENOTDIR) {
		return err
	}
	dir := filepath.Dir(path)
	switch info, err := os.Stat(dir); {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: there is no folder %s: make it first", path, dir)
	case err != nil:
		return err
	case !info.IsDir():
		return fmt.Errorf("%s: %s is no folder", path, dir)
	}
	return nil
}

// CheckPage is CheckVacant that accepts an HTML page at path: a page can be made again,
// unlike a recording whose name was typed by mistake.
func CheckPage(path string) error { return checkMade(path, "<!doctype html") }

// CheckPDF is CheckPage for a PDF.
func CheckPDF(path string) error { return checkMade(path, "%PDF-") }

// checkMade is CheckVacant that accepts a file which begins with a text, whatever
// its case.
func checkMade(path, begins string) error {
	if file, err := input.Open(path); err == nil {
		defer file.Close()
		head := make([]byte, len(begins))
		if _, err := io.ReadFull(file, head); err == nil && strings.EqualFold(string(head), begins) {
			return nil
		}
	}
	return CheckVacant(path)
}
