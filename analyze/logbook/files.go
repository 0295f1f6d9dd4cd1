package logbook

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"aplomb/analyze/provenance"
	"aplomb/device/input"
	"aplomb/device/lock"
	"aplomb/device/owneronly"
	"aplomb/device/recording"
)

// newFileName returns a name for the file of a recording. Names sort by time and do not
// identify the dancer.
func newFileName(started time.Time, ending string) string {
	return started.UTC().Format("20060102T150405Z") + "-" + strings.ToLower(rand.Text()[:8]) + ending
}

// stagedFile is a recording that has been copied into the folder of recordings under a
// temporary name.
type stagedFile struct {
	recordedFile        // as it will be in the folder
	temporary    string // path; "" where the file is already in its place
	copied       bool   // it is a copy of a file elsewhere, which stays
}

// stage writes a recording with its number into the folder of recordings, under a
// temporary name. A damaged recording is copied unchanged, and so has no number.
func (l *Logbook) stage(ctx context.Context, f recordedFile, started time.Time, number int64) (s stagedFile, err error) {
	folder := filepath.Join(l.dir, recordings)
	inside, err := sameFolder(filepath.Dir(f.path), folder)
	if err != nil {
		return s, err
	}
	s = stagedFile{recordedFile: f, copied: !inside}
	s.number = number
	if inside {
		info, err := os.Lstat(f.path)
		if err == nil && !info.Mode().IsRegular() {
			err = fmt.Errorf("%s: not a file", f.path)
		}
		if err == nil { // of a link it would change the mode of the file that it leads to
			err = os.Chmod(f.path, owneronly.File)
		}
		if err != nil {
			return s, err
		}
	} else {
		ending := ".mcap"
		if strings.HasSuffix(f.path, ".part") {
			ending += ".part"
		}
		s.name = newFileName(started, ending)
	}
	temporary := filepath.Join(folder, newFileName(started, copying))
	err = errUnnumbered
	if f.identity != "" {
		err = writeNew(temporary, func(w io.Writer) error { return recording.CopyNumbered(ctx, w, f.path, number) })
	}
	if errors.Is(err, errUnnumbered) || errors.Is(err, recording.ErrDamaged) {
		if inside {
			return s, nil
		}
		err = writeNew(temporary, copyOf(ctx, f.path))
	}
	if err != nil {
		return s, err
	}
	s.temporary = temporary
	if s.sum, s.size, err = provenance.SHA256(ctx, temporary); err != nil {
		os.Remove(temporary)
	}
	return s, err
}

var errUnnumbered = errors.New("a damaged recording carries no number")

// place gives a staged recording its name in the folder of recordings. It replaces the
// original where that is in the folder.
func (l *Logbook) place(s stagedFile) error {
	if s.temporary == "" {
		return nil
	}
	folder := filepath.Join(l.dir, recordings)
	return cmp.Or(os.Rename(s.temporary, filepath.Join(folder, s.name)), syncFolder(folder))
}

// withdraw removes the files that stage and place created, except those that replaced
// another.
func (l *Logbook) withdraw(s stagedFile) {
	if s.temporary != "" {
		os.Remove(s.temporary)
	}
	if s.copied {
		os.Remove(filepath.Join(l.dir, recordings, s.name))
	}
}

func sameFolder(a, b string) (bool, error) {
	infoA, err := os.Stat(a)
	if err != nil {
		return false, err
	}
	infoB, err := os.Stat(b)
	return err == nil && os.SameFile(infoA, infoB), err
}

// copying is the ending of the name of a file that is still being copied.
const copying = ".copying"

// copyFile copies a file, readable by the owner alone, to a path that does not exist. The
// copy is complete or does not exist, also when the power fails or ctx is done.
func copyFile(ctx context.Context, from, to string) error {
	part := to + copying
	if err := writeNew(part, copyOf(ctx, from)); err != nil {
		return err
	}
	return cmp.Or(os.Rename(part, to), syncFolder(filepath.Dir(to)))
}

// copyOf returns a function that writes the file at path to w.
func copyOf(ctx context.Context, path string) func(w io.Writer) error {
	return func(w io.Writer) error {
		in, err := input.Open(path)
		if err != nil {
			return err
		}
		defer in.Close()
		_, err = io.Copy(w, reader{ctx, in})
		return err
	}
}

// writeNew writes a new file, readable by the owner alone, and syncs it to disk. After an
// error it does not exist.
func writeNew(path string, write func(w io.Writer) error) error {
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, owneronly.File)
	if err != nil {
		return err
	}
	lock.Mark(out)
	if err = write(out); err == nil {
		err = out.Sync()
	}
	lock.Unmark(out)
	if err = cmp.Or(err, out.Close()); err != nil {
		os.Remove(path)
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return nil
}

// reader is a Reader that ends with the error of ctx when ctx is done.
type reader struct {
	ctx  context.Context
	from io.Reader
}

func (r reader) Read(b []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.from.Read(b)
}

// syncFolder syncs the names in a folder to disk.
func syncFolder(path string) error {
	dir, err := os.Open(path)
	if err != nil {
		return err
	}
	defer dir.Close()
	// Windows cannot sync a folder, and does not need it.
	if err := dir.Sync(); err != nil && runtime.GOOS != "windows" {
		return err
	}
	return nil
}
