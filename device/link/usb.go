//go:build !darwin || cgo

package link

import "go.bug.st/serial/enumerator"

// usbPorts returns the system's information about its USB ports by name. It is empty
// where there is none, which does not affect the use of the ports.
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
