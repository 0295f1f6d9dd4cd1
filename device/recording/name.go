package recording

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// A file that is removed while it is open keeps its content until it is closed.
// So a .part that is taken away, alone or with its folder, is written again.

// named says whether the name of the .part leads to our file; true where that
// cannot be known.
func (w *Writer) named() bool {
	there, err := os.Stat(w.part)
	if errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) {
		return false
	}
	ours, e := w.file.Stat()
	return err != nil || e != nil || os.SameFile(there, ours)
}

// keepName sees to it that the .part has a name, and writes it again where it
// has none any more. Frames may be written meanwhile.
func (w *Writer) keepName() error {
	if w.named() {
		return nil
	}
	gone := w.part
	name, again, err := w.createAgain()
	if err == nil {
		if err = w.moveTo(name, again); err != nil {
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
	return w.syncName()
}

// createAgain makes a .part of the same name, or where something else has it
// now of the next free one.
func (w *Writer) createAgain() (name string, f file, err error) {
	if err := os.MkdirAll(filepath.Dir(w.path), 0o777); err != nil {
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

// moveTo copies what was recorded to another file and goes on there.
func (w *Writer) moveTo(name string, to file) error {
	// Most of it while frames go on being written to the old file.
	n, err := io.Copy(to, rest(w.file, 0))
	if err != nil {
		return err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.buf.Flush(); err != nil {
		return err
	}
	if _, err := io.Copy(to, rest(w.file, n)); err != nil {
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

// syncName puts the name of the .part on the disk. Where its folder has gone in
// this moment, keepName will see it.
func (w *Writer) syncName() error {
	err := w.disk.SyncDir(filepath.Dir(w.part))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

// rest reads f from a byte on.
func rest(f file, from int64) io.Reader { return io.NewSectionReader(f, from, 1<<62) }
