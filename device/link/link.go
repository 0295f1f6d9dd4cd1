// Package link is a serial port, or two, as a source of frames.
//
// One goroutine a port does nothing but read bytes, note when they arrived and
// hand them over; everything else happens in Next, on the caller's goroutine.
package link

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// DefaultBaud is the speed of a port where Options names none.
const DefaultBaud = 921600

// Clock says when bytes arrived. It is asked once for every chunk, when that
// has just been read, and from the goroutines of the ports.
type Clock interface{ Now() time.Time }

// Options says what to open.
type Options struct {
	// Ports are the serial ports by foot. "" where a foot is not recorded; the
	// same port twice is one line that carries both feet.
	Ports  [2]string
	Strips [2]*device.Strip // their profiles, by foot; nil where there is no port
	Baud   int              // 0 is DefaultBaud
	Clock  Clock            // nil is the host's, its steps taken out

	// Both are measured in real time, whatever Clock says.
	Silence   time.Duration // how long a foot may send nothing of use; 0 is 3 s
	HelloWait time.Duration // how long frames wait for the first hello; 0 is 1 s
}

// Link is a device.Source. Next, Stats, Warnings and Events belong to one
// goroutine; Close may be called from any.
type Link struct {
	baud     int
	silence  time.Duration
	wait     time.Duration
	ports    []*port
	sides    [2]*side // by foot
	readers  *readers
	tick     *time.Ticker
	maxQuiet int         // ticks in Options.Silence
	unwatch  func() bool // of the context

	current chunk // being decoded; its buffer is nil where there is none
	message wire.Message
	arrival int64          // of current, ns since 1970
	held    []device.Frame // waiting for a hello, in the order of arrival

	events   []device.Event
	warnings []string
	end      error // how the source will end once what arrived is used up
	err      error // how it has ended
}

// port is one serial line and what is known of it.
type port struct {
	name    string
	feet    []device.Foot
	decoder *wire.Decoder
	quiet   int // ticks since any bytes came
}

// carries says whether that foot's strip should be on the line.
func (p *port) carries(f device.Foot) bool {
	for _, own := range p.feet {
		if own == f {
			return true
		}
	}
	return false
}

// Open opens the ports and starts to read. Each error is one line that names
// the port, what is wrong and what to do. When ctx is done the link stops as if
// closed.
func Open(ctx context.Context, o Options) (*Link, error) {
	l := &Link{
		baud:    orDefault(o.Baud, DefaultBaud),
		silence: orDefault(o.Silence, 3*time.Second),
		wait:    orDefault(o.HelloWait, time.Second),
	}
	if o.Clock == nil {
		o.Clock = hostClock{time.Now()}
	}
	if err := l.assign(o); err != nil {
		return nil, err
	}
	l.readers = newReaders(o.Clock)
	for _, p := range l.ports {
		line, err := openLine(p.name, l.baud)
		if err != nil {
			l.readers.stop()
			<-l.readers.over
			return nil, err
		}
		l.readers.start(p, line)
	}
	tick := max(time.Millisecond, min(l.silence, l.wait)/8)
	l.tick, l.maxQuiet = time.NewTicker(tick), int(l.silence/tick)
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
	for _, p := range l.ports {
		var strips [2]*device.Strip
		for _, f := range p.feet {
			strips[f] = l.sides[f].strip
		}
		p.decoder = wire.NewDecoder(strips[device.Left], strips[device.Right])
	}
	return nil
}

// Next returns the next frame as soon as its last byte has been read. After
// Close, or when the context is done, it returns what had arrived and then
// io.EOF. Any other error is one line that says what is wrong, on which port
// and what to do; it is final.
func (l *Link) Next(f *device.Frame) error {
	for l.err == nil {
		if l.release(f) {
			return nil
		}
		if l.current.bytes != nil {
			if !l.current.port.decoder.Next(&l.message) {
				l.readers.giveBack(&l.current)
				continue
			}
			ready, err := l.take(f)
			if err != nil {
				l.fail(err)
			} else if ready {
				return nil
			}
			continue
		}
		if err := l.hear(); err != nil {
			l.fail(err)
		}
	}
	return l.err
}

// hear waits for the next thing to happen.
func (l *Link) hear() error {
	select {
	case c := <-l.readers.chunks:
		if c.err != nil {
			return l.lose(c.port, c.err)
		}
		l.current = c
		l.arrival = max(l.arrival, c.arrival.UnixNano())
		c.port.quiet = 0
		c.port.decoder.Feed(c.bytes[:c.n])
	case <-l.tick.C:
		return l.watch()
	case <-l.readers.over:
		if len(l.readers.chunks) > 0 {
			return nil
		}
		if len(l.held) > 0 {
			l.trust(0) // no hello will come
			return nil
		}
		if l.end == nil {
			l.end = io.EOF
		}
		return l.end
	}
	return nil
}

// lose ends the source, after what has arrived, because a port has gone away.
// A link that reconnects would open the port again here.
func (l *Link) lose(p *port, err error) error {
	if l.end == nil {
		l.end = fmt.Errorf("port %s: the line has ended (%w): is the cable still in?", p.name, err)
	}
	l.readers.stop()
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
// by the host's where the strip has started again.
func (l *Link) Events() []device.Event {
	e := l.events
	l.events = nil
	return e
}

// Warnings returns all that a reader of the frames should know, each once.
func (l *Link) Warnings() []string { return l.warnings }

func (l *Link) warn(format string, args ...any) {
	l.warnings = append(l.warnings, fmt.Sprintf(format, args...))
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
