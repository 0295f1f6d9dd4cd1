package link

import (
	"cmp"
	"fmt"
	"slices"

	"go.bug.st/serial"
)

// PortInfo is a serial port of this machine, with the information that the system has
// about it.
type PortInfo struct {
	Name         string // to be given to Open
	VendorID     string // of USB, four hex digits; "" where it is no USB port or unknown
	ProductID    string
	SerialNumber string
	Product      string
}

// Ports lists the serial ports of this machine by name.
func Ports() ([]PortInfo, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, fmt.Errorf("list of serial ports: %w", err)
	}
	known := usbPorts()
	ports := make([]PortInfo, 0, len(names))
	for _, name := range names {
		p := known[name]
		p.Name = name
		ports = append(ports, p)
	}
	slices.SortFunc(ports, func(a, b PortInfo) int { return cmp.Compare(a.Name, b.Name) })
	return ports, nil
}
