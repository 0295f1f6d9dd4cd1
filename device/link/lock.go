package link

import "errors"

var (
	// errLocked is returned by lockDevice where another process has the lock.
	errLocked = errors.New("locked")
	// errNotDevice is returned by lockDevice for what is no device.
	errNotDevice = errors.New("it is no device")
)
