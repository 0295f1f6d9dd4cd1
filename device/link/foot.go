package link

import (
	"aplomb/device"
	"aplomb/device/wire"
)

// Stats counts what has come from one foot so far.
type Stats struct {
	Frames  uint64     // frames given by Next
	Refused uint64     // frames left out because they are no valid successor of the one before, including Late
	Late    uint64     // frames left out because they came twice or out of order
	Lost    uint64     // frames missing according to the strip's numbers
	Gaps    uint64     // events of kind device.Gap
	HasSeq  bool       // the strip numbers its frames; otherwise Lost is not known
	Clock   string     // the clock of TimeUS: "strip", "host", or "" before the first frame
	Hello   bool       // the strip has announced itself
	Port    string     // the port it is plugged in at, or was last
	Away    Notice     // why no frames come; the zero Notice while they arrive
	Line    wire.Stats // of the line, for both feet where it carries both
}

// Stats returns the counts by foot; those of a foot without a port are zero.
func (l *Link) Stats() (all [2]Stats) {
	for f, s := range l.feet {
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

// footState is the state of one foot: its strip, and the counts of its frames.
type footState struct {
	foot     device.Foot
	strip    *device.Strip
	port     *port
	unwrap   wire.Unwrap
	stats    Stats
	quiet    int  // ticks since a frame came
	accepted bool // the frames on the line are known, or assumed, to be this strip's
	given    bool // Next has given a frame

	arrival int64  // of the last frame, ns since 1970
	stalled int64  // gaps until then are attributed to a silent line, ns since 1970
	dropped uint64 // packets and lines that the line's decoder had dropped by the last frame
	out     outage // current outage of its line
}

// handle processes l.message. It returns whether it has set f to a frame.
func (l *Link) handle(f *device.Frame) (ready bool, err error) {
	m, n := &l.message, l.current.line
	if m.Hello != nil {
		return false, l.handleHello(n, m.Hello)
	}
	if n.port == nil {
		if n.stranger == nil {
			n.keepWaiting(m, l.arrival)
		}
		return false, nil
	}
	s, err := l.footOf(n.port, m)
	if err != nil {
		return false, l.refuse(n, err, Speaker{Foot: m.Foot})
	}
	if len(n.waiting) > 0 || !s.accepts(m) {
		n.keepWaiting(m, l.arrival)
		return false, nil
	}
	return l.give(s, n, m, l.arrival, f), nil
}

// footOf returns the foot at p that the frame m is of.
func (l *Link) footOf(p *port, m *wire.Message) (*footState, error) {
	if m.Foot == device.NoFoot {
		return l.feet[p.feet[0]], p.checkText()
	}
	if !p.carries(m.Foot) {
		return nil, errorOf(ErrWrongFoot, "port %s: frames of the %s foot on the port of the %s: swap --left and --right, or name this port for both",
			p.name, m.Foot, p.feet[0])
	}
	return l.feet[m.Foot], nil
}

// checkText refuses text on a port for both feet: text does not say which foot a
// frame is of.
func (p *port) checkText() error {
	if len(p.feet) > 1 {
		return errorOf(ErrOneFoot, "port %s: text, which carries one foot only: give each foot a port of its own", p.name)
	}
	return nil
}

// give sets f to the frame m with its number and time unwrapped. It returns false where m
// must be left out.
func (l *Link) give(s *footState, n *line, m *wire.Message, arrival int64, f *device.Frame) bool {
	step, ok := l.unwrap(s, m, arrival)
	if !ok {
		return false
	}
	l.noteGap(s, n, step, arrival)
	s.quiet, s.given, s.arrival = 0, true, arrival
	*f = device.Frame{
		Foot: s.foot, Seq: step.Seq, TimeUS: step.TimeUS, ArrivalNS: arrival, Restarted: step.Reset,
		Counts: append(f.Counts[:0], m.Counts...),
	}
	return true
}

// unwrap determines the number and the time of m. ok is false where m must be left out.
func (l *Link) unwrap(s *footState, m *wire.Message, arrival int64) (step wire.Step, ok bool) {
	if s.stats.Clock == "" {
		s.stats.Clock, s.stats.HasSeq = "strip", m.HasSeq
		if !m.HasClock {
			s.stats.Clock = "host"
			l.warn(Notice{Code: HostClock, Port: s.port.name, Foot: s.foot, Strip: s.strip.Name})
		}
	}
	// A damaged line of text may lack only its clock, or have one number too many.
	if m.HasClock == (s.stats.Clock == "host") || m.HasSeq != s.stats.HasSeq {
		s.stats.Refused++
		return step, false
	}
	step = s.unwrap.Next(m, arrival)
	if step.Order != wire.InOrder {
		s.stats.Refused++
		if step.Order != wire.Unconfirmed {
			s.stats.Late++
		}
		return step, false
	}
	s.stats.Frames++
	s.stats.Lost += uint64(step.Lost)
	return step, true
}
