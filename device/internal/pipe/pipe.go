// Package pipe opens files that may be named pipes, terminals or other devices,
// so that neither opening nor reading one takes longer than a context allows.
package pipe

import (
	"context"
	"io"
	"os"
)

// Open opens the file at path for reading. When ctx is done, Read and ReadFile
// return its error at once, also while they wait for somebody to open the other
// end of a named pipe or to write to it. Other errors are those of package os; a
// pipe that cannot be opened reports it from the first Read.
func Open(ctx context.Context, path string) (io.ReadCloser, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().IsRegular() || info.IsDir() {
		file, err := os.Open(path)
		if err != nil {
			return nil, err
		}
		return &regular{ctx, file}, nil
	}
	r, w := io.Pipe()
	unwatch := context.AfterFunc(ctx, func() { w.CloseWithError(ctx.Err()) })
	go copyFrom(path, w)
	return &copied{r, unwatch}, nil
}

// ReadFile reads the whole file at path, as Open opens it.
func ReadFile(ctx context.Context, path string) ([]byte, error) {
	r, err := Open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return io.ReadAll(r)
}

// copyFrom copies the file at path to w. Opening and reading wait for whoever
// writes into the pipe; nothing but that, or the end of the process, ends them.
func copyFrom(path string, w *io.PipeWriter) {
	file, err := os.Open(path)
	if err == nil {
		_, err = io.Copy(w, file)
		file.Close()
	}
	w.CloseWithError(err)
}

// regular is a file that is read without waiting for anybody.
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

// copied is a file that copyFrom reads.
type copied struct {
	*io.PipeReader
	unwatch func() bool
}

func (c *copied) Close() error {
	c.unwatch()
	return c.PipeReader.Close()
}
