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

// Line is a serial line with nothing but this process at its far end: a
// pseudo-terminal in raw mode, to be read as any serial port.
type Line struct {
	far     *os.File // where we write
	near    *os.File // the device, kept open so that readers may come and go
	link    string
	dropped int

	// Patience is how long Send waits for room. A reader that is there makes
	// room far sooner than the 20 ms that OpenLine sets.
	Timeout time.Duration
}

// OpenLine makes a line. Where link is not empty it becomes a symbolic link to
// the device until Close. What stands there already is left alone and is an
// error, except a link to a device that is gone.
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

// impatient returns a second handle of f that keeps deadlines, which a file
// whose descriptor has once been asked for does not.
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

// Path returns where to read the line: the link, or else the device.
func (l *Line) Path() string {
	if l.link != "" {
		return l.link
	}
	return l.near.Name()
}

// Send writes a packet. Where nobody reads, the line fills up: then all that
// is in it is lost, and the packet with it, as on a port that nobody has open.
// So a reader that comes later finds no frames older than the line is long.
// The error is that of a line that is closed.
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

// write writes what there is room for. Where there is none it waits for some,
// a while, and says EAGAIN. It tries before it looks at any clock, since a busy
// machine may let any time pass between two lines of a program.
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

// empty throws away what nobody has read. It also gives the device free, in
// case its last reader died while having it to itself.
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

// Dropped returns how often the line was found full. Ask when Serve has ended.
func (l *Line) Dropped() int { return l.dropped }

// Close removes the link, where it is still ours, and ends the line: a reader
// finds its end.
func (l *Line) Close() error {
	if to, err := os.Readlink(l.link); err == nil && to == l.near.Name() {
		os.Remove(l.link)
	}
	return errors.Join(l.near.Close(), l.far.Close())
}
