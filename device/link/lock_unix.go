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

	"golang.org/x/sys/unix"

	"aplomb/device/lock"
)

// lockDevice locks a device until Close or the end of the process. The lock is a file
// in the user's own folder for locks, so that nobody else can take it or put another
// file in its place. Unlike the exclusive mode of a terminal it also keeps two
// processes of root apart. Between different users only the exclusive mode does that,
// which does not stop root.
func lockDevice(device string) (io.Closer, error) {
	info, err := os.Stat(device)
	if err != nil {
		return nil, err
	}
	if info.Mode()&fs.ModeCharDevice == 0 {
		return nil, errNotDevice
	}
	if err := unix.Access(device, unix.R_OK|unix.W_OK); err != nil {
		return nil, err
	}
	dir, err := lock.Folder()
	if err != nil {
		return nil, fmt.Errorf("its lock: %v", err) // not wrapped: the port itself is not what is missing or denied
	}
	name := strings.ReplaceAll(strings.TrimPrefix(device, "/"), string(filepath.Separator), "-")
	l, err := lock.Take(filepath.Join(dir, name+".lock"))
	if held := (*lock.HeldError)(nil); err != nil && !errors.As(err, &held) {
		return nil, fmt.Errorf("its lock: %v", err)
	}
	return l, err
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
