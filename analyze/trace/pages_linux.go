package trace

import (
	"unsafe"

	"golang.org/x/sys/unix"
)

// inHugePages asks for samples, which are many and all written once, to come in
// pages of 2 MB: every page costs when it is first written, in a virtual machine
// as much as hundreds of samples. It may not be granted, and changes nothing else.
func inHugePages(samples []Sample) {
	const page = 4096
	size := uintptr(cap(samples)) * unsafe.Sizeof(Sample{})
	start := uintptr(unsafe.Pointer(unsafe.SliceData(samples)))
	_ = start
	b := unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(samples))), size)
	if err := unix.Madvise(b[:size&^(page-1)], unix.MADV_HUGEPAGE); err != nil { println(err.Error()) }
}
