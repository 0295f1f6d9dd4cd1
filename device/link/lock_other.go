//go:build !unix

package link

import "io"

type noLock struct{}

func (noLock) Close() error { return nil }

// lockDevice does nothing: the system itself opens a port only once.
func lockDevice(string) (io.Closer, error) { return noLock{}, nil }

// groupOf knows of no groups.
func groupOf(string) string { return "" }
