//go:build unix

package logbook

import "golang.org/x/sys/unix"

// writable reports whether this process may write in the file or folder at path.
// The file is not opened: closing it would release the locks of a logbook that is
// open in this process.
func writable(path string) bool { return unix.Access(path, unix.W_OK) == nil }
