//go:build darwin && !cgo

package link

// usbPorts knows nothing: on this system the enumerator is written in C.
func usbPorts() map[string]PortInfo { return nil }
