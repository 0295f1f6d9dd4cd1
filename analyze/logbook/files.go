package logbook

import (
	"cmp"
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"aplomb/device/owneronly"
)

// newFileName returns a name for the file of a recording. Names sort by time and
// do not say whose recording it is.
func newFileName(started time.Time, ending string) string {
	return started.UTC().Format("20060102T150405Z") + "-" + strings.ToLower(rand.Text()[:8]) + ending
}

// store puts the recording at path into the folder of recordings and returns its
// name there. A file that is in the folder stays, any other is copied.
func (l *Logbook) store(ctx context.Context, path string, started time.Time) (name string, copied bool, err error) {
	folder := filepath.Join(l.dir, recordings)
	inside, err := sameFolder(filepath.Dir(path), folder)
	if err != nil {
		return "", false, err
	}
	if inside {
		info, err := os.Lstat(path)
		if err == nil && !info.Mode().IsRegular() {
			err = fmt.Errorf("%s: not a file", path)
		}
		return filepath.Base(path), false, cmp.Or(err, os.Chmod(path, owneronly.File))
	}
	ending := ".mcap"
	if strings.HasSuffix(path, ".part") {
		ending += ".part"
	}
	name = newFileName(started, ending)
	return name, true, copyFile(ctx, path, filepath.Join(folder, name))
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

// copyFile copies a file, readable by the owner alone, to a path where nothing
// is. The copy is there complete or not at all, also when the power fails or ctx
// is done.
func copyFile(ctx context.Context, from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	part := to + copying
	out, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, owneronly.File)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			out.Close()
			os.Remove(part)
		}
	}()
	if _, err := io.Copy(out, reader{ctx, in}); err != nil {
		return fmt.Errorf("copying %s to %s: %w", from, to, err)
	}
	if err := cmp.Or(out.Sync(), out.Close()); err != nil {
		return fmt.Errorf("copying %s to %s: %w", from, to, err)
	}
	return cmp.Or(os.Rename(part, to), syncFolder(filepath.Dir(to)))
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

// syncFolder writes names that were made or removed in a folder to the disk.
func syncFolder(path string) error {
	dir, err := os.Open(path)
	if err != nil {
		return err
	}
	defer dir.Close()
	// Windows cannot, and has no need to.
	if err := dir.Sync(); err != nil && runtime.GOOS != "windows" {
		return err
	}
	return nil
}
