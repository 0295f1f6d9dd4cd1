package link

import (
	"io"
	"path/filepath"
	"sync/atomic"

	"go.bug.st/serial"

	"aplomb/device/wire"
)

// line is an open serial port, locked for this process. Modem bits are left alone:
// opening raises DTR anyway, and pseudo-terminals have none.
type line struct {
	serial.Port
	lock   io.Closer
	name   string      // the name it was opened by
	device string      // the file behind the name
	leave  atomic.Bool // its bytes are ignored, and its reader is to close it

	// Only Next uses the fields below.
	decoder  *wire.Decoder
	port     *port     // the port it belongs to; nil while that is not known
	likely   *port     // the port it belongs to according to its name or the serial number of its adapter
	waiting  []waiting // frames that wait for a hello
	stranger *Speaker  // the sender refused on it, nil where there is none
	doubted  *Speaker  // the last hello in text that contradicts the profile, but may be damaged
	heard    int64     // arrival of the last bytes, ns since 1970
	quiet    int       // ticks since any bytes came
	age      int       // ticks since it was opened
}

func (l *line) close() {
	l.Port.Close()
	l.lock.Close()
}

// openLine opens and locks a port. Its reads return after pollEvery at the latest.
func openLine(name string, baud int) (*line, error) {
	if err := checkBaud(name, baud); err != nil {
		return nil, err
	}
	device := resolve(name)
	lock, err := lockDevice(device)
	if err != nil {
		return nil, explain(name, device, baud, err)
	}
	p, err := serial.Open(device, &serial.Mode{BaudRate: baud})
	if err == nil {
		if err = p.SetReadTimeout(pollEvery); err != nil {
			p.Close()
		}
	}
	if err != nil {
		lock.Close()
		return nil, explain(name, device, baud, err)
	}
	return &line{Port: p, lock: lock, name: name, device: device}, nil
}

// maxBaud is faster than any serial port. The system takes a speed as 32 bits and
// would cut off the rest of a larger number.
const maxBaud = 100_000_000

func checkBaud(name string, baud int) error {
	if baud < 1 || baud > maxBaud {
		return errorOf(ErrBaud, "port %s: %d baud: give the speed that the strip sends at with --baud, such as %d", name, baud, DefaultBaud)
	}
	return nil
}

// resolve returns the target of a symbolic link, such as one that names a port by its
// serial number; other names it returns unchanged.
func resolve(name string) string {
	if device, err := filepath.EvalSymlinks(name); err == nil {
		if abs, err := filepath.Abs(device); err == nil {
			return abs
		}
	}
	return name
}

// SamePort reports whether two names are those of one port, which may have several, such
// as a symbolic link.
func SamePort(a, b string) bool { return a == b || resolve(a) == resolve(b) }
