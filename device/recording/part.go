package recording

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"aplomb/device/owneronly"
)

// A .part that is removed while it is being written, alone or with its folder, is written
// again: a removed file keeps its content until it is closed.

// hasName reports whether the name of the .part still refers to the open file; true where
// that is unknown.
func (w *Writer) hasName() bool {
	there, err := os.Stat(w.part)
	if errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) {
		return false
	}
	ours, e := w.file.Stat()
	return err != nil || e != nil || os.SameFile(there, ours)
}

// restoreName writes the .part again where its name no longer refers to the open file.
// Frames may be written at the same time.
func (w *Writer) restoreName() error {
	if w.hasName() {
		return nil
	}
	gone := w.part
	name, again, err := w.createReplacement()
	if err == nil {
		if err = w.switchTo(name, again); err != nil {
			again.Close()
			w.disk.Remove(name)
		}
	}
	if err != nil {
		return fmt.Errorf("%s was removed while it was recorded into, and cannot be written again: %w", gone, err)
	}
	text := gone + " was removed while it was recorded into; it has been written again and nothing is lost"
	if name != gone {
		text = gone + " was replaced while it was recorded into; the recording goes on in " + name + " and nothing is lost"
	}
	w.mu.Lock()
	w.warnings = append(w.warnings, text)
	w.mu.Unlock()
	return w.syncFolder()
}

// createReplacement creates a .part of the same name, or of the next free name
// where another file has it.
func (w *Writer) createReplacement() (name string, f file, err error) {
	if err := os.MkdirAll(filepath.Dir(w.path), owneronly.Folder); err != nil {
		return "", nil, err
	}
	name = w.path + ".part"
	for n := 2; ; n++ {
		f, err = w.disk.Create(name)
		if !errors.Is(err, os.ErrExist) || n > 99 {
			return name, f, err
		}
		ext := filepath.Ext(w.path)
		name = fmt.Sprintf("%s-%d%s.part", strings.TrimSuffix(w.path, ext), n, ext)
	}
}

// switchTo copies the recording so far to another file, which becomes the .part.
func (w *Writer) switchTo(name string, to file) error {
	// Most of it is copied while frames are still written to the old file.
	n, err := io.Copy(to, readFrom(w.file, 0))
	if err != nil {
		return err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.buf.Flush(); err != nil {
		return err
	}
	if _, err := io.Copy(to, readFrom(w.file, n)); err != nil {
		return err
	}
	if err := to.Sync(); err != nil {
		return err
	}
	w.file.Close()
	w.part, w.file = name, to
	w.buf.Reset(to)
	return nil
}

// syncFolder syncs the name of the .part to the disk. A folder that has just been removed
// is no error here: restoreName detects that.
func (w *Writer) syncFolder() error {
	err := w.disk.SyncDir(filepath.Dir(w.part))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

// readFrom returns a reader of f from an offset on, bytes.
func readFrom(f file, from int64) io.Reader { return io.NewSectionReader(f, from, 1<<62) }
