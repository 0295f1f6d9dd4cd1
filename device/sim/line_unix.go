//go:build unix

package sim

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// Line is a serial line to this process: a pseudo-terminal in raw mode, which is read as any
// serial port is.
type Line struct {
	far     *os.File // the end that Send writes to
	near    *os.File // the device, kept open so that readers can close and open it
	link    string
	dropped int

	// Timeout is how long Send waits for room. OpenLine sets 20 ms; a reader makes room
	// much sooner.
	Timeout time.Duration
}

// OpenLine opens a line. Where link is not empty it becomes a symbolic link to the device
// until Close. A file that exists under that name is an error and stays, except a link to a
// device that is gone.
func OpenLine(link string) (*Line, error) {
	far, near, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("pseudo-terminal: %w", err)
	}
	l := &Line{Timeout: 20 * time.Millisecond}
	if _, err = term.MakeRaw(int(near.Fd())); err == nil {
		l.far, err = withDeadlines(far)
	}
	if err == nil {
		l.near, err = withDeadlines(near)
	}
	far.Close()
	near.Close()
	if err == nil && link != "" {
		err = makeLink(link, l.near.Name())
	}
	if err != nil {
		if l.far != nil {
			l.far.Close()
		}
		if l.near != nil {
			l.near.Close()
		}
		return nil, fmt.Errorf("pseudo-terminal: %w", err)
	}
	l.link = link
	return l, nil
}

// withDeadlines returns a second handle of f that supports deadlines. A file whose
// descriptor has been requested with Fd does not.
func withDeadlines(f *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(f.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		unix.Close(fd)
		return nil, err
	}
	return os.NewFile(uintptr(fd), f.Name()), nil
}

// makeLink makes a symbolic link to a device.
func makeLink(link, device string) error {
	if at, err := os.Lstat(link); err == nil {
		if at.Mode()&os.ModeSymlink == 0 {
			return fmt.Errorf("%s exists and is not a link: choose another path", link)
		}
		if _, err := os.Stat(link); err == nil {
			return fmt.Errorf("%s is a link in use: choose another path, or remove it", link)
		}
		if err := os.Remove(link); err != nil {
			return err
		}
	}
	return os.Symlink(device, link)
}

// Path returns the path to read the line at: the link, or the device where there is none.
func (l *Line) Path() string {
	if l.link != "" {
		return l.link
	}
	return l.near.Name()
}

// Send writes a packet. Without a reader the line fills up; Send then discards its content
// and the packet, as happens on a port that no process has open, so that a later reader
// finds no old frames. It returns an error where the line is closed.
func (l *Line) Send(packet []byte) error {
	for began := time.Now(); len(packet) > 0; {
		n, err := l.write(packet)
		switch {
		case err == nil:
			packet = packet[n:]
		case errors.Is(err, unix.EINTR):
		case !errors.Is(err, unix.EAGAIN):
			return fmt.Errorf("line %s: %w", l.Path(), err)
		case time.Since(began) > l.Timeout:
			l.dropped++
			return l.discardUnread()
		}
	}
	return nil
}

// write writes as many bytes as there is room for. Where there is none it waits up to
// Timeout and returns EAGAIN. It tries to write before it looks at the time, because any
// time may pass between two instructions on a busy machine.
func (l *Line) write(packet []byte) (n int, err error) {
	far, err := l.far.SyscallConn()
	if err != nil {
		return 0, err
	}
	closed := far.Control(func(fd uintptr) {
		n, err = unix.Write(int(fd), packet)
		if errors.Is(err, unix.EAGAIN) {
			unix.Poll([]unix.PollFd{{Fd: int32(fd), Events: unix.POLLOUT}}, int(l.Timeout.Milliseconds()))
		}
	})
	if closed != nil {
		return 0, closed
	}
	return n, err
}

// discardUnread discards unread bytes. It also releases the device, which a reader
// that died may have locked.
func (l *Line) discardUnread() error {
	near, err := l.near.SyscallConn()
	if err != nil {
		return err
	}
	if err := near.Control(func(fd uintptr) { unix.IoctlSetInt(int(fd), unix.TIOCNXCL, 0) }); err != nil {
		return err
	}
	if err := l.near.SetReadDeadline(time.Now().Add(time.Millisecond)); err != nil {
		return err
	}
	var unread [4096]byte
	for {
		if _, err := l.near.Read(unread[:]); errors.Is(err, os.ErrDeadlineExceeded) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// Dropped returns how often the line was full. It is called after Serve has returned.
func (l *Line) Dropped() int { return l.dropped }

// Close removes the link, unless it has been changed, and closes the line. A reader then
// finds the end of the file.
func (l *Line) Close() error {
	if to, err := os.Readlink(l.link); err == nil && to == l.near.Name() {
		os.Remove(l.link)
	}
	return errors.Join(l.near.Close(), l.far.Close())
}
