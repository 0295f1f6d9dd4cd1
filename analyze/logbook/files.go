package logbook

import (
	"cmp"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// newFileName names a recording so that names sort by time and none says whose it is.
func newFileName(started time.Time, ending string) string {
	return started.UTC().Format("20060102T150405Z") + "-" + strings.ToLower(rand.Text()[:8]) + ending
}

// takeIn makes the recording at path one of this logbook's folder and returns
// its name there. A file from elsewhere is copied.
func (l *Logbook) takeIn(path string, started time.Time) (name string, copied bool, err error) {
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
		return filepath.Base(path), false, cmp.Or(err, os.Chmod(path, 0o600))
	}
	ending := ".mcap"
	if strings.HasSuffix(path, ".part") {
		ending += ".part"
	}
	name = newFileName(started, ending)
	return name, true, copyFile(path, filepath.Join(folder, name))
}

func sameFolder(a, b string) (bool, error) {
	infoA, err := os.Stat(a)
	if err != nil {
		return false, err
	}
	infoB, err := os.Stat(b)
	return err == nil && os.SameFile(infoA, infoB), err
}

// copying ends the name of a file that is still being copied.
const copying = ".copying"

// copyFile copies a file for the owner alone; nothing may be at to. It is there
// whole or not at all, also when the power fails.
func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	part := to + copying
	out, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			out.Close()
			os.Remove(part)
		}
	}()
	if _, err := io.Copy(out, in); err != nil {
		return fmt.Errorf("copying %s to %s: %w", from, to, err)
	}
	if err := cmp.Or(out.Sync(), out.Close()); err != nil {
		return fmt.Errorf("copying %s to %s: %w", from, to, err)
	}
	return cmp.Or(os.Rename(part, to), syncFolder(filepath.Dir(to)))
}

// syncFolder puts names that were made or removed in a folder on the disk.
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

// sha256Of returns the SHA-256 of a file in hexadecimal, and its size in bytes.
func sha256Of(path string) (sum string, size int64, err error) {
	file, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer file.Close()
	h := sha256.New()
	if size, err = io.Copy(h, file); err != nil {
		return "", 0, fmt.Errorf("%s: %w", path, err)
	}
	return hex.EncodeToString(h.Sum(nil)), size, nil
}
