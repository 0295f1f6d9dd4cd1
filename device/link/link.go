// Package link reads frames from one or two serial ports.
//
// One goroutine per port reads bytes, records when they arrived and passes them on.
// Everything else happens in Next, on the caller's goroutine.
//
// Once a frame of every foot has arrived, nothing on a line ends the source: missing
// frames become events, and a port that has disappeared is searched for until it is back.
package link

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// DefaultBaud is the speed of a port where Options names none.
const DefaultBaud = 921600

// Clock gives the time at which bytes arrived. The goroutines of the ports call Now after
// every read, and Next calls it once at the end where a line is then silent or out.
type Clock interface{ Now() time.Time }

// Options specifies which ports to open, and how.
type Options struct {
	// Ports are the serial ports by foot, "" for a foot that is not recorded. The
	// same port twice is one line that carries both feet.
	Ports  [2]string
	Strips [2]*device.Strip // the profiles by foot; nil where there is no port
	Baud   int              // 0 stands for DefaultBaud
	Clock  Clock            // nil stands for the host's clock without its steps

	// Notify, where it is not nil, is called when frames of a foot stop coming,
	// with the reason, and with the zero Notice when they come again. It is called
	// from Next, also while that waits.
	Notify func(f device.Foot, why Notice)

	// These two are measured in real time, whatever Clock says.
	Silence   time.Duration // how long a foot may send no frame; 0 stands for 3 s
	HelloWait time.Duration // how long frames wait for a hello, at first and after a line's return; 0 stands for 1 s

	list func() ([]PortInfo, error) // Ports, replaced in tests
}

// Link is a device.Source. Next, Stats, Warnings and Events belong to one
// goroutine; Close may be called from any.
type Link struct {
	baud       int
	helloWait  time.Duration
	maxSilence time.Duration
	notify     func(device.Foot, Notice)
	ports      []*port
	feet       [2]*footState // by foot; nil where there is no port
	lines      []*line       // that are open
	readers    *readers
	tick       *time.Ticker
	tickEvery  time.Duration
	maxQuiet   int // ticks in maxSilence
	search     searcher
	unwatch    func() bool // stops watching the context
	begun      bool        // a frame of every foot has been given

	current chunk // the chunk that is being decoded; its buffer is nil where there is none
	message wire.Message
	arrival int64 // of current, ns since 1970

	events   []device.Event
	warnings []Notice
	end      error // the error that Next will return after all that has arrived
	err      error // the error that Next has returned
}

// port is a serial port specified for one or both feet.
type port struct {
	name string
	feet []device.Foot
	usb  PortInfo   // information from the system when the link was opened
	line *line      // nil while it is out
	past wire.Stats // of the lines it had before
}

// carries reports whether the port was specified for that foot.
func (p *port) carries(f device.Foot) bool { return slices.Contains(p.feet, f) }

// stats returns the counts of all lines that the port has had.
func (p *port) stats() wire.Stats {
	if p.line == nil {
		return p.past
	}
	return p.past.Plus(p.line.decoder.Stats())
}

// Open opens the ports and starts to read. Each error is one line that names the
// port, what is wrong and what to do, and matches one of the kinds of errors.go
// such as ErrBusy. When ctx is done the link stops as if closed.
func Open(ctx context.Context, o Options) (*Link, error) {
	l := &Link{
		baud:       orDefault(o.Baud, DefaultBaud),
		maxSilence: orDefault(o.Silence, 3*time.Second),
		helloWait:  orDefault(o.HelloWait, time.Second),
		notify:     o.Notify,
	}
	if o.Clock == nil {
		o.Clock = hostClock{time.Now()}
	}
	if o.list == nil {
		o.list = Ports
	}
	if err := l.assign(o); err != nil {
		return nil, err
	}
	l.search = newSearcher(o.list, l.baud, l.ports)
	l.readers = newReaders(o.Clock)
	for _, p := range l.ports {
		line, err := openLine(p.name, l.baud)
		if err != nil {
			l.readers.stop()
			<-l.readers.over
			return nil, err
		}
		p.line, line.port, line.decoder = line, p, wire.NewDecoder(l.strips(p))
		l.lines = append(l.lines, line)
		l.readers.start(line)
	}
	l.tickEvery = max(time.Millisecond, min(l.maxSilence, l.helloWait)/20)
	l.tick, l.maxQuiet = time.NewTicker(l.tickEvery), int(l.maxSilence/l.tickEvery)
	l.unwatch = context.AfterFunc(ctx, l.readers.stop)
	return l, nil
}

// assign sets up ports and feet.
func (l *Link) assign(o Options) error {
	for _, f := range device.Feet {
		name, strip := o.Ports[f], o.Strips[f]
		if name == "" {
			continue
		}
		if strip == nil {
			return fmt.Errorf("port %s: no strip profile for the %s foot: give one with --strip", name, f)
		}
		var p *port
		for _, other := range l.ports {
			if resolve(other.name) == resolve(name) {
				p = other
			}
		}
		if p == nil {
			p = &port{name: name}
			l.ports = append(l.ports, p)
		}
		p.feet = append(p.feet, f)
		l.feet[f] = &footState{foot: f, strip: strip, port: p}
	}
	if len(l.ports) == 0 {
		return errors.New("no port: name one with --left or --right (see aplomb ports)")
	}
	return nil
}

// strips returns the profiles of the strips that belong to those ports.
func (l *Link) strips(ports ...*port) (left, right *device.Strip) {
	var strips [2]*device.Strip
	for _, p := range ports {
		for _, f := range p.feet {
			strips[f] = l.feet[f].strip
		}
	}
	return strips[device.Left], strips[device.Right]
}

// Next returns the next frame as soon as its last byte has been read or, for a frame that
// waits for a hello, when that has arrived. After Close, or when the context is done, it
// returns the frames that had arrived and then io.EOF. Until a frame of every foot has
// arrived it may return another error, as Open does. Every error is final.
func (l *Link) Next(f *device.Frame) error {
	for l.err == nil {
		ready, err := l.giveWaiting(f)
		switch {
		case err != nil || ready:
		case l.current.bytes == nil:
			err = l.wait()
		case l.current.line.decoder.Next(&l.message):
			ready, err = l.handle(f)
		default:
			l.readers.release(&l.current)
		}
		if err != nil {
			l.fail(err)
		} else if ready {
			l.noteBegun()
			return nil
		}
	}
	return l.err
}

// noteBegun records when a frame of every foot has been given.
func (l *Link) noteBegun() {
	if !l.begun {
		l.begun = !slices.ContainsFunc(l.feet[:], func(s *footState) bool { return s != nil && !s.given })
	}
}

// wait waits for bytes, the result of a search, a tick or the end, and processes it.
func (l *Link) wait() error {
	select {
	case c := <-l.readers.chunks:
		switch {
		case c.found != nil:
			l.useFound(c.found)
		case c.line.leave.Load():
			if c.bytes != nil {
				l.readers.release(&c)
			}
		case c.err != nil:
			l.lineEnded(c.line, c.err)
		default:
			l.current = c
			l.arrival = max(l.arrival, c.arrival.UnixNano())
			l.noteStall(c.line)
			c.line.decoder.Feed(c.bytes[:c.n])
		}
	case <-l.tick.C:
		return l.everyTick()
	case <-l.readers.over:
		switch {
		case len(l.readers.chunks) > 0:
		case slices.ContainsFunc(l.lines, func(n *line) bool { return len(n.waiting) > 0 }):
			l.acceptWithoutHello(0) // no hello will come
		case l.end == nil:
			l.noteLastGaps()
			return io.EOF
		default:
			return l.end
		}
	}
	return nil
}

// fail ends the source with err.
func (l *Link) fail(err error) {
	l.err = err
	l.readers.stop()
	l.tick.Stop()
}

// Close stops reading and closes the ports. Next then returns what had arrived and
// io.EOF. Close waits until the ports are closed, for a second at most.
func (l *Link) Close() error {
	l.unwatch()
	l.readers.stop()
	<-l.readers.over
	if !l.readers.ended() {
		var names []string
		for _, p := range l.ports {
			names = append(names, p.name)
		}
		return fmt.Errorf("port %s: does not let go: unplug it", strings.Join(names, " or "))
	}
	return nil
}

// Events returns the events since its last call. A device.Gap has the time of the frame
// that ended it, and its length by the strip's clock, or by the host's where the strip
// has restarted. A gap that is still open at the end of the source has the time of that
// end. A device.Reconnect belongs to the first frame of a line that was out or had
// another strip on it.
func (l *Link) Events() []device.Event {
	e := l.events
	l.events = nil
	return e
}

// Warnings returns what users of the frames should know, each Notice once.
func (l *Link) Warnings() []Notice { return l.warnings }

func (l *Link) warn(n Notice) {
	if !slices.Contains(l.warnings, n) {
		l.warnings = append(l.warnings, n)
	}
}

// hostClock is the host's clock when the link was opened plus the monotonic time since
// then, so that it is not affected when the host's clock is set.
type hostClock struct{ opened time.Time }

func (c hostClock) Now() time.Time { return c.opened.Add(time.Since(c.opened)) }

func orDefault[T int | time.Duration](v, d T) T {
	if v == 0 {
		return d
	}
	return v
}

var _ device.Source = (*Link)(nil)
