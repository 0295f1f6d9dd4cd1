//go:build darwin && !cgo

package link

// usbPorts returns nil: the enumerator of this system needs cgo.
func usbPorts() map[string]PortInfo { return nil }
