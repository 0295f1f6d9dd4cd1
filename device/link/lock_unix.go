//go:build unix

package link

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// lockDevice locks a device until Close or the end of the process. Unlike the
// exclusive mode of a terminal the lock also stops root. It is a lock on an empty
// file in the directory for temporary files. The file is never removed: a process
// that waited for a file that is then removed would hold a lock on nothing.
//
// Processes with different directories for temporary files do not see each
// other's locks; only the exclusive mode of the terminal keeps them apart.
func lockDevice(device string) (io.Closer, error) {
	info, err := os.Stat(device)
	if err != nil {
		return nil, err
	}
	if info.Mode()&fs.ModeCharDevice == 0 {
		return nil, errNotDevice
	}
	path := filepath.Join(os.TempDir(), "aplomb"+strings.ReplaceAll(device, string(filepath.Separator), "-")+".lock")
	file, err := openLock(path)
	if err != nil {
		return nil, fmt.Errorf("its lock: %v", err) // not wrapped: the port itself is not what is missing or denied
	}
	err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == nil {
		return file, nil
	}
	file.Close()
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, errLocked
	}
	return nil, fmt.Errorf("its lock %s: %v", path, err)
}

// openLock opens a lock file, or creates it. It opens it for reading, because the
// file may belong to another user.
func openLock(path string) (*os.File, error) {
	for {
		file, err := os.Open(path)
		if !errors.Is(err, fs.ErrNotExist) {
			return file, err
		}
		file, err = os.OpenFile(path, os.O_CREATE|os.O_EXCL, 0o444)
		if err == nil {
			return file, file.Chmod(0o444) // whatever the umask
		}
		if !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
	}
}

// groupOf returns the group that a device belongs to, "" where it has no name.
func groupOf(device string) string {
	info, err := os.Stat(device)
	if err != nil {
		return ""
	}
	at, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return ""
	}
	group, err := user.LookupGroupId(strconv.Itoa(int(at.Gid)))
	if err != nil {
		return ""
	}
	return group.Name
}
