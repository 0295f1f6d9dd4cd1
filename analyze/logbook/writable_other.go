//go:build !unix

package logbook

// writable returns true: whether a file can be written shows when it is.
func writable(string) bool { return true }
