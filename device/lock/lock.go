// Package lock marks files as in use by this process, and reports which process uses a
// file.
//
// A lock belongs to an open file. The system releases it when the file is closed or the
// process ends, also when it is killed. It does not prevent reading or removing the
// file. On a file system without locks nothing appears to be in use.
package lock

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"os/user"
	"path/filepath"
	"time"
)

// Holder is a process that uses a file. It identifies no person.
type Holder struct {
	PID     int       // 0 where it is not known
	Started time.Time // when the program started; zero where it is not known
	Since   time.Time // when it began to use the file; zero where it is not known
}

// programStarted is when this program started.
var programStarted = time.Now()

// Self returns this process as the holder of a file from now on.
func Self() Holder { return Holder{os.Getpid(), programStarted, time.Now()} }

// String describes the process, with local times.
func (h Holder) String() string {
	if h.PID == 0 {
		return "another program"
	}
	const at = "2006-01-02 15:04:05"
	said := fmt.Sprintf("process %d", h.PID)
	if !h.Started.IsZero() {
		said += ", started " + h.Started.Local().Format(at)
	}
	if !h.Since.IsZero() {
		said += ", since " + h.Since.Local().Format(at)
	}
	return said
}

// write writes the holder into its lock file; read reads it again.
func (h Holder) write(f *os.File) error {
	if err := f.Truncate(0); err != nil {
		return err
	}
	_, err := f.WriteAt(fmt.Appendf(nil, "%d %s %s\n", h.PID, h.Started.UTC().Format(time.RFC3339), h.Since.UTC().Format(time.RFC3339)), 0)
	return err
}

// read returns the zero Holder where the file does not identify its holder.
func read(f *os.File) (h Holder) {
	text, err := io.ReadAll(io.NewSectionReader(f, 0, 200))
	if err != nil {
		return Holder{}
	}
	var pid int
	var started, since string
	if _, err := fmt.Sscan(string(text), &pid, &started, &since); err != nil {
		return Holder{}
	}
	h.PID = pid
	h.Started, err = time.Parse(time.RFC3339, started)
	var e error
	h.Since, e = time.Parse(time.RFC3339, since)
	if cmp.Or(err, e) != nil {
		return Holder{}
	}
	return h
}

// Mark marks an open file as in use by this process until it is closed. It waits
// for other processes that are asking Held at this moment.
func Mark(f *os.File) { wait(f) }

// Unmark removes the mark. Closing the file alone would leave the mark to a child process
// that is just being started, until that has closed its inherited files.
func Unmark(f *os.File) { unlock(f) }

// Held reports whether a process has marked the file at path, or has taken it.
func Held(path string) bool {
	// A named pipe is not opened: opening one waits for a writer.
	if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() {
		return false
	}
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	if held(f) {
		return true
	}
	unlock(f)
	return false
}

// HeldError means that another process holds the lock at Path.
type HeldError struct {
	Path   string
	Holder Holder
}

func (e *HeldError) Error() string { return e.Path + " is in use by " + e.Holder.String() }

// File is a lock file that this process holds.
type File struct{ file *os.File }

// Take creates a lock file at path, or takes over one left by a process that was killed,
// and writes the holder into it. The error is a *HeldError where another process holds
// it. The folder of path must not be writable by others.
func Take(path string) (*File, error) {
	for try := 0; ; try++ {
		if info, err := os.Lstat(path); err == nil && !info.Mode().IsRegular() {
			return nil, fmt.Errorf("lock %s: not a file: remove it", path)
		}
		f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
		if err != nil {
			return nil, err
		}
		err = attempt(f)
		if errors.Is(err, errHeld) {
			holder := read(f)
			f.Close()
			if try < 5 { // a process that asks Held has the lock for a moment
				time.Sleep(5 * time.Millisecond)
				continue
			}
			return nil, &HeldError{path, holder}
		}
		// Its last holder may have removed it since it was opened.
		if err == nil && !isAt(f, path) {
			f.Close()
			continue
		}
		if err == nil {
			err = Self().write(f)
		}
		if err != nil {
			f.Close()
			return nil, fmt.Errorf("lock %s: %w", path, err)
		}
		return &File{f}, nil
	}
}

// isAt reports whether path still refers to the open file.
func isAt(f *os.File, path string) bool {
	open, err := f.Stat()
	there, e := os.Lstat(path)
	return cmp.Or(err, e) == nil && os.SameFile(open, there)
}

// Close releases the lock and removes its file.
func (l *File) Close() error {
	removed := os.Remove(l.file.Name())
	unlock(l.file)
	err := l.file.Close()
	if removed != nil { // Windows removes no open file
		removed = os.Remove(l.file.Name())
	}
	return cmp.Or(err, removed)
}

// Folder returns the folder of this user's lock files, in which nobody else can create
// files. It creates it where it does not exist. It is aplomb in XDG_RUNTIME_DIR (XDG Base
// Directory Specification 0.8), else in the cache folder; either is used only where it
// belongs to this user.
func Folder() (string, error) {
	bases := []string{os.Getenv("XDG_RUNTIME_DIR")}
	if cache, err := os.UserCacheDir(); err == nil {
		bases = append(bases, cache)
	}
	if u, err := user.Current(); err == nil { // HOME may be that of another user, as with sudo
		bases = append(bases, filepath.Join(u.HomeDir, ".cache"))
	}
	var why error
	for _, base := range bases {
		if !filepath.IsAbs(base) {
			continue
		}
		dir := filepath.Join(base, "aplomb")
		err := os.MkdirAll(dir, 0o700)
		if err = cmp.Or(err, private(base), private(dir)); err == nil {
			return dir, nil
		}
		why = cmp.Or(why, err)
	}
	return "", fmt.Errorf("no folder of your own for locks (%v): set XDG_RUNTIME_DIR or HOME to one", why)
}
