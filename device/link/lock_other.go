//go:build !unix

package link

import "io"

type noLock struct{}

func (noLock) Close() error { return nil }

// lockDevice does nothing: this system opens a port only once.
func lockDevice(string) (io.Closer, error) { return noLock{}, nil }

// groupOf returns "": this system has no groups of devices.
func groupOf(string) string { return "" }
