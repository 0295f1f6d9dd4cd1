//go:build !unix

package console

// ignoreBackgroundRead does nothing: the system has no such signal.
func ignoreBackgroundRead() {}

// OutliveReaders does nothing: the system has no such signal.
func OutliveReaders() {}
