package link

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"syscall"

	"go.bug.st/serial"

	"aplomb/device/wire"
)

// line is a serial port that is open and ours alone. No modem bits are touched:
// opening raises DTR anyway, and pseudo-terminals have none.
type line struct {
	serial.Port
	lock   io.Closer
	name   string      // as it was opened
	device string      // behind links
	leave  atomic.Bool // nothing more from it counts, and its reader is to close it

	// What follows belongs to Next.
	decoder *wire.Decoder
	port    *port  // whose it is; nil while that is not known
	likely  *port  // whose it is going by its name, or by its adapter's serial number
	held    []held // frames that wait for a hello
	strange string // who says hello there that does not belong; "" where nobody has
	doubted string // the last hello, where it was one of a line of text and may be damaged
	heard   int64  // arrival of the last bytes, ns since 1970
	quiet   int    // ticks since any bytes came
	age     int    // ticks since it was opened
}

func (l *line) close() {
	l.Port.Close()
	l.lock.Close()
}

// openLine opens a port for this process alone, so that reads return after
// pollEvery with nothing.
func openLine(name string, baud int) (*line, error) {
	if err := checkBaud(name, baud); err != nil {
		return nil, err
	}
	device := resolve(name)
	lock, err := lockDevice(device)
	if errors.Is(err, errLocked) {
		return nil, fmt.Errorf("port %s: busy: another aplomb reads it; stop that one first", name)
	}
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

// maxBaud is faster than any serial port. The system takes a speed in 32 bits,
// and would make another one of a number that does not fit.
const maxBaud = 100_000_000

func checkBaud(name string, baud int) error {
	if baud < 1 || baud > maxBaud {
		return fmt.Errorf("port %s: %d baud: give the speed that the strip sends at with --baud, such as %d", name, baud, DefaultBaud)
	}
	return nil
}

// resolve returns the device behind links such as those that name a port by
// its serial number; name itself where there is none.
func resolve(name string) string {
	if device, err := filepath.EvalSymlinks(name); err == nil {
		if abs, err := filepath.Abs(device); err == nil {
			return abs
		}
	}
	return name
}

// explain says in one line why a port could not be opened and what to do.
func explain(name, device string, baud int, err error) error {
	code := serial.PortErrorCode(-1)
	if e := (*serial.PortError)(nil); errors.As(err, &e) {
		code = e.Code()
	}
	switch {
	case code == serial.PortNotFound || errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("port %s: no such port: %s (see aplomb ports)", name, thereAre())
	case code == serial.PortBusy:
		return fmt.Errorf("port %s: busy: another program has it open; close that one first", name)
	case code == serial.PermissionDenied || errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("port %s: no permission: %s", name, access(device))
	case code == serial.InvalidSpeed || errors.Is(err, syscall.EINVAL):
		return fmt.Errorf("port %s: it cannot do %d baud (%w): give another speed with --baud, the one that the strip sends at", name, baud, err)
	case code == serial.InvalidSerialPort:
		return fmt.Errorf("port %s: %w: is it a serial port, and can it do %d baud? (see aplomb ports, --baud)", name, err, baud)
	}
	return fmt.Errorf("port %s: cannot be opened: %w (see aplomb ports)", name, err)
}

func thereAre() string {
	ports, err := Ports()
	if err != nil || len(ports) == 0 {
		return "there is none on this machine; is the strip plugged in?"
	}
	var names []string
	for _, p := range ports {
		names = append(names, p.Name)
	}
	return "there are " + strings.Join(names, ", ")
}

// access says who may use a device, and how to become one of them.
func access(device string) string {
	group := groupOf(device)
	switch {
	case group == "" || group == "root":
		return "ask whoever looks after this machine for access to " + device
	case runtime.GOOS == "linux":
		return fmt.Sprintf("it belongs to group %s: join it with: sudo usermod -aG %s $USER, and log in again", group, group)
	}
	return fmt.Sprintf("it belongs to group %s: ask whoever looks after this machine to add you to it", group)
}
