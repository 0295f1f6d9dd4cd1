package link

import "errors"

// errNotDevice is returned by lockDevice for what is no device.
var errNotDevice = errors.New("it is no device")
