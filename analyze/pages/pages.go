// Package pages sets memory aside for what a long recording leaves behind.
//
// Every page of memory costs when it is first written, and a recording of an
// hour fills thousands of those of 4 KB, which in a virtual machine can be a
// fifth of all the time. Linux has pages of 2 MB for who asks for them
// (madvise(2), MADV_HUGEPAGE).
package pages

import "unsafe"

// large is the size of a large page, bytes.
const large = 2 << 20

// Room returns an empty slice with room for n, in large pages where the system
// has them and n fills some.
func Room[T any](n int) []T {
	s := make([]T, 0, n)
	if size := n * int(unsafe.Sizeof(*new(T))); size >= large {
		advise(unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(s))), size))
	}
	return s
}

// Grow returns s with room for n more, in large pages as Room has them.
func Grow[T any](s []T, n int) []T { return append(Room[T](len(s)+n), s...) }
