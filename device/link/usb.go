//go:build !darwin || cgo

package link

import "go.bug.st/serial/enumerator"

// usbPorts returns by name what the system knows of its USB ports. It is empty
// where the system knows nothing of them; the ports work all the same.
func usbPorts() map[string]PortInfo {
	list, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil
	}
	known := map[string]PortInfo{}
	for _, p := range list {
		known[p.Name] = PortInfo{VendorID: p.VID, ProductID: p.PID, SerialNumber: p.SerialNumber, Product: p.Product}
	}
	return known
}
