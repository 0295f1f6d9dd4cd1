package link

import (
	"fmt"

	"aplomb/device"
	"aplomb/device/wire"
)

// Stats says what has come from one foot so far.
type Stats struct {
	Frames  uint64     // read
	Refused uint64     // read and left out, because they could not follow the frame before; with Late
	Late    uint64     // of these, come twice or out of order
	Lost    uint64     // missing by the strip's numbers
	Gaps    uint64     // noted as device.Gap
	HasSeq  bool       // the strip numbers its frames; without, Lost means nothing
	Clock   string     // whose clock TimeUS is: "strip", "host", or "" before the first frame
	Hello   bool       // the strip has said who it is
	Port    string     // where it is plugged in, or was
	Away    string     // why no frames come; "" while they do
	Line    wire.Stats // format, and bytes dropped, of the line; both feet's where it carries both
}

// Stats returns the counts by foot; those of a foot without a port are zero.
func (l *Link) Stats() (all [2]Stats) {
	for f, s := range l.sides {
		if s == nil {
			continue
		}
		all[f] = s.stats
		all[f].Port = s.port.name
		if s.port.line != nil {
			all[f].Port = s.port.line.name
		}
		all[f].Line = s.port.stats()
	}
	return all
}

// side is one foot: its strip, and what has come from it.
type side struct {
	foot   device.Foot
	strip  *device.Strip
	port   *port
	unwrap wire.Unwrap
	stats  Stats
	quiet  int  // ticks since a frame came
	open   bool // it is known whose frames these are
	given  bool // a frame has left Next

	arrival int64  // of the last frame, ns since 1970
	stalled int64  // what is missing until then is put down to a silent line
	dropped uint64 // by the line's decoder until the last frame
	out     outage // why its line is not there
}

func newSide(f device.Foot, strip *device.Strip, p *port) *side {
	return &side{foot: f, strip: strip, port: p}
}

// take makes a frame of l.message, or acts on it. It returns whether f is ready.
func (l *Link) take(f *device.Frame) (ready bool, err error) {
	m, n := &l.message, l.current.line
	if m.Hello != nil {
		return false, l.greet(n, m.Hello)
	}
	if n.port == nil {
		l.waitForHello(n, m)
		return false, nil
	}
	s, err := l.sideOf(n.port, m)
	if err != nil {
		return false, l.refuse(n, err, fmt.Sprintf("frames of the %s foot", m.Foot))
	}
	if len(n.held) > 0 || !s.known(m) {
		n.hold(m, l.arrival)
		return false, nil
	}
	return l.give(s, n, m, l.arrival, f), nil
}

// sideOf returns whose frame m is.
func (l *Link) sideOf(p *port, m *wire.Message) (*side, error) {
	if m.Foot == device.NoFoot {
		return l.sides[p.feet[0]], l.oneFoot(p)
	}
	if !p.carries(m.Foot) {
		return nil, fmt.Errorf("port %s: frames of the %s foot on the port of the %s: swap --left and --right, or name this port for both",
			p.name, m.Foot, p.feet[0])
	}
	return l.sides[m.Foot], nil
}

// oneFoot refuses text on a line for both feet, since text does not say whose a frame is.
func (l *Link) oneFoot(p *port) error {
	if len(p.feet) > 1 {
		return fmt.Errorf("port %s: text, which carries one foot only: give each foot a port of its own", p.name)
	}
	return nil
}

// give places m and sets f to it. It returns whether m has a place.
func (l *Link) give(s *side, n *line, m *wire.Message, arrival int64, f *device.Frame) bool {
	step, ok := l.place(s, m, arrival)
	if !ok {
		return false
	}
	l.account(s, n, step, arrival)
	s.quiet, s.given, s.arrival = 0, true, arrival
	*f = device.Frame{
		Foot: s.foot, Seq: step.Seq, TimeUS: step.TimeUS, ArrivalNS: arrival, Restarted: step.Reset,
		Counts: append(f.Counts[:0], m.Counts...),
	}
	return true
}

// place finds where m stands in time. ok is false where m is to be left out.
func (l *Link) place(s *side, m *wire.Message, arrival int64) (step wire.Step, ok bool) {
	if s.stats.Clock == "" {
		s.stats.Clock, s.stats.HasSeq = "strip", m.HasSeq
		if !m.HasClock {
			s.stats.Clock = "host"
			l.warn("port %s: lines without a clock: the host's arrival time stands in for that of strip %s", s.port.name, s.strip.Name)
		}
	}
	// A damaged line of text can be short of just its clock, or be one cell too long.
	if m.HasClock == (s.stats.Clock == "host") || m.HasSeq != s.stats.HasSeq {
		s.stats.Refused++
		return step, false
	}
	step = s.unwrap.Next(m, arrival)
	if step.Place != wire.InOrder {
		s.stats.Refused++
		if step.Place != wire.Doubtful {
			s.stats.Late++
		}
		return step, false
	}
	s.stats.Frames++
	s.stats.Lost += uint64(step.Lost)
	return step, true
}
