// Package input opens the files that a user names. It opens only regular files and, where
// a function says so, pipes; opening a file never blocks. A file that is read as a whole
// has a limit of bytes, which is checked before any parser runs, and so is the nesting of
// a profile (CheckTOML).
package input

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
)

// KindError means that a path names something other than a regular file, such as a
// folder, a device or a socket.
type KindError struct {
	Path string
	Kind string // in words
}

func (e *KindError) Error() string { return fmt.Sprintf("%s: %s: name a file", e.Path, e.Kind) }

// kindOf returns the kind of a file that is not regular, in words.
func kindOf(mode fs.FileMode) string {
	switch {
	case mode.IsDir():
		return "a folder"
	case mode&fs.ModeNamedPipe != 0:
		return "a pipe"
	case mode&fs.ModeSocket != 0:
		return "a socket"
	case mode&fs.ModeDevice != 0:
		return "a device"
	}
	return "no regular file"
}

// CheckKind returns a *KindError where there is something other than a regular file at
// path. It opens nothing.
func CheckKind(path string) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return &KindError{path, kindOf(info.Mode())}
	}
	return nil
}

// MaxHoles bounds the bytes of a file that were never written to the disk. A power cut
// or the rescue of a broken disk leaves such holes; a larger one is no measurement, and
// reading it takes hours.
const MaxHoles = 64 << 20

// Open opens the regular file at path for reading. It returns a *KindError where path
// names anything else, and an error where the file has more than MaxHoles of holes.
// Other errors are those of package os.
func Open(path string) (*os.File, error) {
	// Other files are not opened at all: opening them can block until there is a writer,
	// or start a device.
	if err := CheckKind(path); err != nil {
		return nil, err
	}
	// The name may refer to another file by now, so opening must not block.
	file, err := os.OpenFile(path, os.O_RDONLY|noWait, 0)
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = &KindError{path, kindOf(info.Mode())}
	}
	if err == nil && info.Size() > MaxHoles && hasHoles(file, info.Size()) {
		err = fmt.Errorf("%s: %d bytes, most of which were never written: copy the file again", path, info.Size())
	}
	if err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}

// OpenStream opens a regular file as Open does, or a pipe. When ctx is done, Read
// returns its error at once, also while it waits for somebody to open the other end of
// a pipe or to write to it. A pipe that cannot be opened reports it from the first Read.
func OpenStream(ctx context.Context, path string) (io.ReadCloser, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if info, err := os.Stat(path); err == nil && info.Mode()&fs.ModeNamedPipe != 0 {
		r, w := io.Pipe()
		unwatch := context.AfterFunc(ctx, func() { w.CloseWithError(ctx.Err()) })
		go copyFrom(path, w)
		return &copied{r, unwatch}, nil
	}
	file, err := Open(path)
	if err != nil {
		return nil, err
	}
	return &regular{ctx, file}, nil
}

// ReadFile reads the whole regular file at path, or the whole pipe that the shell has
// opened under the name path, such as /dev/stdin. It returns an error where that is more
// than limit bytes, having read no more than those, and that of ctx when ctx is done.
func ReadFile(ctx context.Context, path string, limit int64) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	open := func() (io.ReadCloser, error) { return Open(path) }
	if isDescriptor(path) {
		open = func() (io.ReadCloser, error) { return OpenStream(ctx, path) }
	}
	file, err := open()
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, limit+1))
	if err == nil && int64(len(data)) > limit {
		err = fmt.Errorf("%s: more than %d KiB: is it the right file?", path, limit>>10)
	}
	if err != nil {
		return nil, err
	}
	return data, nil
}

// isDescriptor reports whether path names an open file descriptor of this process.
// Reading it does not wait for a writer to open it.
func isDescriptor(path string) bool {
	return path == "/dev/stdin" || strings.HasPrefix(path, "/dev/fd/") || strings.HasPrefix(path, "/proc/self/fd/")
}

// copyFrom copies the pipe at path to w. Opening and reading block until there is a
// writer; only that, or the end of the process, ends them.
func copyFrom(path string, w *io.PipeWriter) {
	file, err := os.Open(path)
	if err == nil {
		_, err = io.Copy(w, file)
		file.Close()
	}
	w.CloseWithError(err)
}

// regular is a file that is read without blocking.
type regular struct {
	ctx context.Context
	*os.File
}

func (f *regular) Read(p []byte) (int, error) {
	if err := f.ctx.Err(); err != nil {
		return 0, err
	}
	return f.File.Read(p)
}

// copied is a pipe that copyFrom reads.
type copied struct {
	*io.PipeReader
	unwatch func() bool
}

func (c *copied) Close() error {
	c.unwatch()
	return c.PipeReader.Close()
}
