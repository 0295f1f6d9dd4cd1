package link

import (
	"fmt"
	"slices"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// held is a frame that waits for a hello, as it came: nothing is made of it
// until it is known whose it is.
type held struct {
	message wire.Message
	arrival int64
	since   time.Time // real time, whatever the arrival says
}

// hold keeps m until its strip, and those of the frames before it on that line,
// have said who they are.
func (n *line) hold(m *wire.Message, arrival int64) {
	h := held{*m, arrival, time.Now()}
	h.message.Counts = slices.Clone(m.Counts)
	n.held = append(n.held, h)
}

// known says whether m need not wait for a hello. Text need not ever say one.
func (s *side) known(m *wire.Message) bool {
	return s.open || m.Foot == device.NoFoot && !s.stats.Hello
}

// waitForHello deals with a frame on a line that is nobody's yet.
func (l *Link) waitForHello(n *line, m *wire.Message) {
	if n.strange == "" {
		n.hold(m, l.arrival)
	}
}

// release sets f to the next frame that was held and need no longer be.
func (l *Link) release(f *device.Frame) (ready bool, err error) {
	for _, n := range l.lines {
		for len(n.held) > 0 && n.port != nil {
			h := &n.held[0]
			s, err := l.sideOf(n.port, &h.message)
			if err != nil {
				return false, l.refuse(n, err, fmt.Sprintf("frames of the %s foot", h.message.Foot))
			}
			if !s.known(&h.message) {
				break
			}
			ready := l.give(s, n, &h.message, h.arrival, f)
			if n.held = n.held[1:]; len(n.held) == 0 {
				n.held = nil
			}
			if ready {
				return true, nil
			}
		}
	}
	return false, nil
}

// trust takes frames that have waited that long as the profile's strip, though
// the strip has not said so; on a line that nothing but a hello can tell from
// any other it gives them up.
func (l *Link) trust(wait time.Duration) {
	for _, n := range l.lines {
		if len(n.held) == 0 || time.Since(n.held[0].since) < wait {
			continue
		}
		if n.port == nil && n.likely != nil && l.isAway(n.likely) {
			l.attach(n, n.likely)
		}
		if n.port == nil {
			n.held = nil
			continue
		}
		s, err := l.sideOf(n.port, &n.held[0].message)
		if err != nil || s.open {
			continue // release says so
		}
		s.open = true
		l.warn("port %s: no hello within %s: frames of the %s foot are taken as strip %s of the profile",
			n.name, seconds(l.wait), s.foot, s.strip.Name)
	}
}

// greet acts on a strip's saying who it is: it is the one that belongs on the
// line, or on another line that is out, or it is refused.
func (l *Link) greet(n *line, h *wire.Hello) error {
	text := n.decoder.Stats().Format == wire.Text
	p := n.port
	var no error
	if p != nil {
		no = l.contradicts(p, h, text)
	}
	if p == nil || no != nil {
		if q := l.missing(h, text, n); q != nil {
			l.attach(n, q)
			p, no = q, nil
		}
	}
	if p == nil || no != nil {
		who := fmt.Sprintf("strip %q of the %s foot", h.Strip, h.Foot)
		if text && p != nil && l.sides[p.feet[0]].open && n.doubted != who {
			n.doubted = who // a hello in text has no checksum: let it say so twice
			return nil
		}
		return l.refuse(n, no, who)
	}
	n.doubted = ""
	s := l.sides[h.Foot]
	s.stats.Hello, s.open = true, true
	if !text {
		s.unwrap.MayRestart()
	}
	return nil
}

// contradicts says why the strip that says h does not belong at p.
func (l *Link) contradicts(p *port, h *wire.Hello, text bool) error {
	if text {
		if err := l.oneFoot(p); err != nil {
			return err
		}
	}
	if !p.carries(h.Foot) {
		return fmt.Errorf("port %s: strip %q says it is under the %s foot, the port was given for the %s: swap --left and --right, or name this port for both",
			p.name, h.Strip, h.Foot, p.feet[0])
	}
	s := l.sides[h.Foot]
	differs := func(what string, said, profile any) error {
		return fmt.Errorf("port %s: the strip says %s %v, its profile %v: give the profile of this strip with --strip, or correct it",
			p.name, what, said, profile)
	}
	switch {
	case h.Strip != s.strip.Name:
		return differs("it is", fmt.Sprintf("%q", h.Strip), fmt.Sprintf("%q", s.strip.Name))
	case h.Rows != s.strip.Rows || h.Cols != s.strip.Cols:
		return differs("rows × cols", fmt.Sprintf("%d × %d", h.Rows, h.Cols), fmt.Sprintf("%d × %d", s.strip.Rows, s.strip.Cols))
	case h.ADCBits != s.strip.ADCBits:
		return differs("adc_bits", h.ADCBits, s.strip.ADCBits)
	}
	return nil
}

// missing returns the port that lacks the strip that says h on n, or nil.
func (l *Link) missing(h *wire.Hello, text bool, n *line) *port {
	for _, p := range l.ports {
		if p != n.port && l.begun && l.isAway(p) && l.contradicts(p, h, text) == nil {
			return p
		}
	}
	return nil
}

// refuse turns away what does not belong on n: who, because of no. Before every
// foot has been heard, that is an error.
func (l *Link) refuse(n *line, no error, who string) error {
	if !l.begun {
		return no
	}
	p := n.port
	if p == nil {
		p = n.likely
	}
	l.detach(n)
	n.held = nil
	if n.strange == who {
		return nil
	}
	n.strange = who
	if p == nil {
		l.warn("port %s: %s, which is not recorded here: refused", n.name, who)
		return nil
	}
	for _, f := range p.feet {
		s := l.sides[f]
		refused := fmt.Sprintf("port %s: %s where strip %q was: refused; plug %q back in", n.name, who, s.strip.Name, s.strip.Name)
		l.warn("%s", refused)
		if p.line == nil {
			l.goOut(s, WrongStrip, refused)
		}
	}
	return nil
}
