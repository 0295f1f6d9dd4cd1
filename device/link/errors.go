package link

import (
	"errors"
	"fmt"
	"io/fs"
	"runtime"
	"strings"
	"syscall"

	"go.bug.st/serial"

	"aplomb/device/internal/errkind"
	"aplomb/device/lock"
)

// The kinds of errors that callers distinguish with errors.Is. Every error says
// in one line which port it is about, what is wrong and what to do.
var (
	// ErrBusy: another process has the port open.
	ErrBusy = errors.New("busy")
	// ErrNoPort: there is no port of that name.
	ErrNoPort = errors.New("no such port")
	// ErrPermission: the user may not open the port.
	ErrPermission = errors.New("no permission")
	// ErrNotSerial: there is something of that name, but no serial port.
	ErrNotSerial = errors.New("no serial port")
	// ErrBaud: the port cannot run at that speed.
	ErrBaud = errors.New("impossible speed")
	// ErrSilent: no byte has come for as long as Options.Silence.
	ErrSilent = errors.New("no data")
	// ErrNoFrames: bytes come, but no frame of the foot for as long as Options.Silence.
	ErrNoFrames = errors.New("no frames")
	// ErrWrongStrip: the strip on the port is not the one of the profile.
	ErrWrongStrip = errors.New("wrong strip")
	// ErrWrongFoot: the strip on the port is that of a foot for which the port was not named.
	ErrWrongFoot = errors.New("wrong foot")
	// ErrOneFoot: the line speaks the text format, which carries one foot only.
	ErrOneFoot = errors.New("text carries one foot only")
	// ErrLineEnded: the line ended before every foot had been heard.
	ErrLineEnded = errors.New("the line has ended")
)

// errorOf returns an error of a kind with a text of its own.
func errorOf(kind error, format string, args ...any) error {
	return errkind.With(kind, fmt.Errorf(format, args...))
}

// explain returns in one line why a port could not be opened and what to do.
// device is the file behind name.
func explain(name, device string, baud int, err error) error {
	code := serial.PortErrorCode(-1)
	if e := (*serial.PortError)(nil); errors.As(err, &e) {
		code = e.Code()
	}
	var taken *lock.HeldError
	switch {
	case errors.As(err, &taken):
		return fmt.Errorf("port %s: %w: another aplomb reads it (%s); stop that one first", name, ErrBusy, taken.Holder)
	case code == serial.PortNotFound || errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("port %s: %w: %s (see aplomb ports)", name, ErrNoPort, portNames())
	case code == serial.PortBusy:
		return fmt.Errorf("port %s: %w: another program has it open; close that one first", name, ErrBusy)
	case code == serial.PermissionDenied || errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("port %s: %w: %s", name, ErrPermission, access(device))
	case code == serial.InvalidSpeed || errors.Is(err, syscall.EINVAL):
		return errorOf(ErrBaud, "port %s: it cannot do %d baud (%w): give another speed with --baud, the one that the strip sends at", name, baud, err)
	case code == serial.InvalidSerialPort:
		return errorOf(ErrNotSerial, "port %s: %w: is it a serial port, and can it do %d baud? (see aplomb ports, --baud)", name, err, baud)
	case errors.Is(err, errNotDevice):
		return errorOf(ErrNotSerial, "port %s: cannot be opened: %w (see aplomb ports)", name, err)
	}
	return fmt.Errorf("port %s: cannot be opened: %w (see aplomb ports)", name, err)
}

// portNames lists the ports of this machine for an error.
func portNames() string {
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
