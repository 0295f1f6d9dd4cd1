//go:build linux || darwin || freebsd

package input

import (
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// hasHoles reports whether more than MaxHoles of the size bytes of a file were never
// written. The offset of the file is 0 afterwards.
func hasHoles(file *os.File, size int64) bool {
	defer file.Seek(0, io.SeekStart)
	holes := int64(0)
	for at := int64(0); at < size; {
		hole, err := file.Seek(at, unix.SEEK_HOLE)
		if err != nil || hole >= size {
			return false // also where the file system does not know
		}
		at, err = file.Seek(hole, unix.SEEK_DATA)
		if err != nil { // there is no more data
			at = size
		}
		if holes += at - hole; holes > MaxHoles {
			return true
		}
	}
	return false
}
