package pages

import (
	"os"
	"unsafe"

	"golang.org/x/sys/unix"
)

// advise asks for large pages. Without them all is as before, so that a refusal
// is nothing to speak of.
func advise(b []byte) {
	page := uintptr(os.Getpagesize())
	if past := uintptr(unsafe.Pointer(unsafe.SliceData(b))) % page; past > 0 {
		b = b[page-past:]
	}
	_ = unix.Madvise(b[:uintptr(len(b))/page*page], unix.MADV_HUGEPAGE)
}
