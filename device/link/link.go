// Package link is a serial port, or two, as a source of frames.
//
// One goroutine a port does nothing but read bytes, note when they arrived and
// hand them over; everything else happens in Next, on the caller's goroutine.
//
// Once every foot has been heard nothing that happens on a line ends the
// source: what is missing becomes an event, and a line that has gone is looked
// for until it is back.
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

// Clock says when bytes arrived. It is asked once for every chunk, when that
// has just been read, and from the goroutines of the ports; and at the end once
// more where a line is then silent or out.
type Clock interface{ Now() time.Time }

// Options says what to open.
type Options struct {
	// Ports are the serial ports by foot. "" where a foot is not recorded; the
	// same port twice is one line that carries both feet.
	Ports  [2]string
	Strips [2]*device.Strip // their profiles, by foot; nil where there is no port
	Baud   int              // 0 is DefaultBaud
	Clock  Clock            // nil is the host's, its steps taken out

	// Notice, where it is not nil, is told when a foot's frames stop coming
	// and why, and with "" when they are back. It is called from Next, which
	// may well be waiting then.
	Notice func(f device.Foot, why string)

	// Both are measured in real time, whatever Clock says.
	Silence   time.Duration // how long a foot may send nothing of use; 0 is 3 s
	HelloWait time.Duration // how long frames wait for the first hello, and after a line's return; 0 is 1 s

	list func() ([]PortInfo, error) // Ports, or what a test puts in its place
}

// Link is a device.Source. Next, Stats, Warnings and Events belong to one
// goroutine; Close may be called from any.
type Link struct {
	baud     int
	wait     time.Duration
	silence  time.Duration
	notice   func(device.Foot, string)
	ports    []*port
	sides    [2]*side // by foot
	lines    []*line  // that are open
	readers  *readers
	tick     *time.Ticker
	each     time.Duration // tick
	maxQuiet int           // ticks in Options.Silence
	search   searcher
	unwatch  func() bool // of the context
	begun    bool        // every foot has been heard

	current chunk // being decoded; its buffer is nil where there is none
	message wire.Message
	arrival int64 // of current, ns since 1970

	events   []device.Event
	warnings []string
	end      error // how the source will end once what arrived is used up
	err      error // how it has ended
}

// port is where the strips of one or both feet are plugged in.
type port struct {
	name string
	feet []device.Foot
	usb  PortInfo   // what the system knew of it
	line *line      // nil while it is out
	past wire.Stats // of the lines it has had before
}

// carries says whether that foot's strip should be on the line.
func (p *port) carries(f device.Foot) bool { return slices.Contains(p.feet, f) }

// stats are those of all the lines that it has had.
func (p *port) stats() wire.Stats {
	if p.line == nil {
		return p.past
	}
	return p.past.Plus(p.line.decoder.Stats())
}

// Open opens the ports and starts to read. Each error is one line that names
// the port, what is wrong and what to do. When ctx is done the link stops as if
// closed.
func Open(ctx context.Context, o Options) (*Link, error) {
	l := &Link{
		baud:    orDefault(o.Baud, DefaultBaud),
		silence: orDefault(o.Silence, 3*time.Second),
		wait:    orDefault(o.HelloWait, time.Second),
		notice:  o.Notice,
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
	l.each = max(time.Millisecond, min(l.silence, l.wait)/20)
	l.tick, l.maxQuiet = time.NewTicker(l.each), int(l.silence/l.each)
	l.unwatch = context.AfterFunc(ctx, l.readers.stop)
	return l, nil
}

// assign sets up ports and sides.
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
		l.sides[f] = newSide(f, strip, p)
	}
	if len(l.ports) == 0 {
		return errors.New("no port: name one with --left or --right (see aplomb ports)")
	}
	return nil
}

// strips returns the profiles of what is plugged in at those ports.
func (l *Link) strips(ports ...*port) (left, right *device.Strip) {
	var strips [2]*device.Strip
	for _, p := range ports {
		for _, f := range p.feet {
			strips[f] = l.sides[f].strip
		}
	}
	return strips[device.Left], strips[device.Right]
}

// Next returns the next frame as soon as its last byte has been read, or, where
// it waits for a hello, when that has come. After Close, or when the context is
// done, it returns what had arrived and then io.EOF. Until every foot has been
// heard there are other errors; each is one line that says what is wrong, on
// which port and what to do, and is final.
func (l *Link) Next(f *device.Frame) error {
	for l.err == nil {
		ready, err := l.release(f)
		switch {
		case err != nil || ready:
		case l.current.bytes == nil:
			err = l.hear()
		case l.current.line.decoder.Next(&l.message):
			ready, err = l.take(f)
		default:
			l.readers.giveBack(&l.current)
		}
		if err != nil {
			l.fail(err)
		} else if ready {
			l.begin()
			return nil
		}
	}
	return l.err
}

// begin notes when every foot has been heard.
func (l *Link) begin() {
	if !l.begun {
		l.begun = !slices.ContainsFunc(l.sides[:], func(s *side) bool { return s != nil && !s.given })
	}
}

// hear waits for the next thing to happen.
func (l *Link) hear() error {
	select {
	case c := <-l.readers.chunks:
		switch {
		case c.found != nil:
			l.adopt(c.found)
		case c.line.leave.Load():
			if c.bytes != nil {
				l.readers.giveBack(&c)
			}
		case c.err != nil:
			l.lose(c.line, c.err)
		default:
			l.current = c
			l.arrival = max(l.arrival, c.arrival.UnixNano())
			l.noteStall(c.line)
			c.line.decoder.Feed(c.bytes[:c.n])
		}
	case <-l.tick.C:
		return l.watch()
	case <-l.readers.over:
		switch {
		case len(l.readers.chunks) > 0:
		case slices.ContainsFunc(l.lines, func(n *line) bool { return len(n.held) > 0 }):
			l.trust(0) // no hello will come
		case l.end == nil:
			l.lastGaps()
			return io.EOF
		default:
			return l.end
		}
	}
	return nil
}

func (l *Link) fail(err error) {
	l.err = err
	l.readers.stop()
	l.tick.Stop()
}

// Close stops reading and frees the ports. Next then returns what had arrived,
// and io.EOF. It waits for the ports, but for no longer than a second.
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

// Events returns what has happened since it was last called. A device.Gap has
// the time of the frame that ended it, and its length by the strip's clock, or
// by the host's where the strip has started again. A gap that is still open
// when the source ends has the time of the end. A device.Reconnect comes with
// the first frame of a line that was out or had another strip on it.
func (l *Link) Events() []device.Event {
	e := l.events
	l.events = nil
	return e
}

// Warnings returns all that a reader of the frames should know, each once.
func (l *Link) Warnings() []string { return l.warnings }

func (l *Link) warn(format string, args ...any) {
	w := fmt.Sprintf(format, args...)
	if !slices.Contains(l.warnings, w) {
		l.warnings = append(l.warnings, w)
	}
}

// hostClock is the host's clock as it was when the link was opened, and from
// then on monotonic, so that it runs on evenly when somebody sets the clock.
type hostClock struct{ opened time.Time }

func (c hostClock) Now() time.Time { return c.opened.Add(time.Since(c.opened)) }

func orDefault[T int | time.Duration](v, d T) T {
	if v == 0 {
		return d
	}
	return v
}

var _ device.Source = (*Link)(nil)
