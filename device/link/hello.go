package link

import (
	"fmt"
	"slices"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// waiting is an undecided frame that waits for a hello, as it was received.
type waiting struct {
	message wire.Message
	arrival int64     // ns since 1970
	since   time.Time // in real time, whatever Options.Clock says
}

// keepWaiting keeps m until its strip, and the strips of the frames before it on
// the line, have announced themselves.
func (n *line) keepWaiting(m *wire.Message, arrival int64) {
	w := waiting{*m, arrival, time.Now()}
	w.message.Counts = slices.Clone(m.Counts)
	n.waiting = append(n.waiting, w)
}

// accepts reports whether m need not wait for a hello. In text no hello is needed.
func (s *footState) accepts(m *wire.Message) bool {
	return s.accepted || m.Foot == device.NoFoot && !s.stats.Hello
}

// giveWaiting sets f to the next waiting frame that is accepted by now. ready is false
// where there is none.
func (l *Link) giveWaiting(f *device.Frame) (ready bool, err error) {
	for _, n := range l.lines {
		for len(n.waiting) > 0 && n.port != nil {
			w := &n.waiting[0]
			s, err := l.footOf(n.port, &w.message)
			if err != nil {
				return false, l.refuse(n, err, Speaker{Foot: w.message.Foot})
			}
			if !s.accepts(&w.message) {
				break
			}
			ready := l.give(s, n, &w.message, w.arrival, f)
			if n.waiting = n.waiting[1:]; len(n.waiting) == 0 {
				n.waiting = nil
			}
			if ready {
				return true, nil
			}
		}
	}
	return false, nil
}

// acceptWithoutHello accepts frames that have waited for wait as frames of the profile's
// strip, although it has not announced itself. On a line that may belong to any port it
// drops them.
func (l *Link) acceptWithoutHello(wait time.Duration) {
	for _, n := range l.lines {
		if len(n.waiting) == 0 || time.Since(n.waiting[0].since) < wait {
			continue
		}
		if n.port == nil && n.likely != nil && l.isOut(n.likely) {
			l.attach(n, n.likely)
		}
		if n.port == nil {
			n.waiting = nil
			continue
		}
		s, err := l.footOf(n.port, &n.waiting[0].message)
		if err != nil || s.accepted {
			continue // giveWaiting returns the error
		}
		s.accepted = true
		l.warn(Notice{Code: NoHello, Port: n.name, Foot: s.foot, Strip: s.strip.Name, WaitS: l.helloWait.Seconds()})
	}
}

// handleHello processes the hello of a strip on n. The strip belongs to the port of n, or
// to another port that is out, or it is refused.
func (l *Link) handleHello(n *line, h *wire.Hello) error {
	text := n.decoder.Stats().Format == wire.Text
	p := n.port
	var contradiction error
	if p != nil {
		contradiction = l.contradiction(p, h, text)
	}
	if p == nil || contradiction != nil {
		if q := l.portLacking(h, text, n); q != nil {
			l.attach(n, q)
			p, contradiction = q, nil
		}
	}
	if p == nil || contradiction != nil {
		who := l.speaker(h)
		if text && p != nil && l.feet[p.feet[0]].accepted && (n.doubted == nil || *n.doubted != who) {
			n.doubted = &who // a hello in text has no checksum: it counts when it comes a second time
			return nil
		}
		return l.refuse(n, contradiction, who)
	}
	n.doubted = nil
	s := l.feet[h.Foot]
	s.stats.Hello, s.accepted = true, true
	if !text {
		s.unwrap.MayRestart()
	}
	return nil
}

// contradiction returns why the strip with the hello h does not belong to p, nil where it
// does.
func (l *Link) contradiction(p *port, h *wire.Hello, text bool) error {
	if text {
		if err := p.checkText(); err != nil {
			return err
		}
	}
	if !p.carries(h.Foot) {
		return errorOf(ErrWrongFoot, "port %s: strip %q says it is under the %s foot, the port was given for the %s: swap --left and --right, or name this port for both",
			p.name, h.Strip, h.Foot, p.feet[0])
	}
	return Mismatch(p.name, h, l.feet[h.Foot].strip)
}

// Mismatch returns why the strip with the hello h at a port is not that of a profile, nil
// where it is. It does not compare the feet.
func Mismatch(port string, h *wire.Hello, strip *device.Strip) error {
	if differs := difference(h, strip); differs != "" {
		return errorOf(ErrWrongStrip, "port %s: the strip says %s: give the profile of this strip with --strip, or correct it", port, differs)
	}
	return nil
}

// difference returns in words where h differs from a profile, "" where it does not.
func difference(h *wire.Hello, strip *device.Strip) string {
	switch {
	case h.Strip != strip.Name:
		return fmt.Sprintf("it is %q, its profile %q", h.Strip, strip.Name)
	case h.Rows != strip.Rows || h.Cols != strip.Cols:
		return fmt.Sprintf("rows × cols %d × %d, its profile %d × %d", h.Rows, h.Cols, strip.Rows, strip.Cols)
	case h.ADCBits != strip.ADCBits:
		return fmt.Sprintf("adc_bits %d, its profile %d", h.ADCBits, strip.ADCBits)
	}
	return ""
}

// speaker returns the Speaker with the hello h.
func (l *Link) speaker(h *wire.Hello) Speaker {
	who := Speaker{Strip: h.Strip, Foot: h.Foot}
	if s := l.feet[h.Foot]; s != nil && s.strip.Name == h.Strip {
		who.Differs = difference(h, s.strip)
	}
	return who
}

// portLacking returns a port that is out and to which the strip with the hello h on n
// belongs, nil where there is none.
func (l *Link) portLacking(h *wire.Hello, text bool, n *line) *port {
	for _, p := range l.ports {
		if p != n.port && l.begun && l.isOut(p) && l.contradiction(p, h, text) == nil {
			return p
		}
	}
	return nil
}

// refuse refuses the sender on n, which does not belong there. Until every foot has sent
// a frame it returns the contradiction as an error.
func (l *Link) refuse(n *line, contradiction error, who Speaker) error {
	if !l.begun {
		return contradiction
	}
	p := n.port
	if p == nil {
		p = n.likely
	}
	l.detach(n)
	n.waiting = nil
	if n.stranger != nil && *n.stranger == who {
		return nil
	}
	n.stranger = &who
	if p == nil {
		l.warn(Notice{Code: Stranger, Port: n.name, Other: who})
		return nil
	}
	for _, f := range p.feet {
		s := l.feet[f]
		refused := Notice{Code: Replaced, Port: n.name, Foot: f, Strip: s.strip.Name, Other: who}
		l.warn(refused)
		if p.line == nil {
			l.setOut(s, WrongStrip, refused)
		}
	}
	return nil
}
