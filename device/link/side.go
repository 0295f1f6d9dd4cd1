package link

import (
	"fmt"
	"slices"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// Causes of a device.Gap.
const (
	LostFrames = "lost frames"
	BoardReset = "board reset"
)

// Stats says what has come from one foot so far.
type Stats struct {
	Frames  uint64     // read
	Refused uint64     // read and left out: the clock had not moved, or was missing from a line of text
	Lost    uint64     // missing by the strip's numbers
	Gaps    uint64     // runs of frames lost, and restarts of the strip
	HasSeq  bool       // the strip numbers its frames; without, Lost means nothing
	Clock   string     // whose clock TimeUS is: "strip", "host", or "" before the first frame
	Hello   bool       // the strip has said who it is
	Line    wire.Stats // format, and bytes dropped, of the line; both feet's where it carries both
}

// Stats returns the counts by foot; those of a foot without a port are zero.
func (l *Link) Stats() (all [2]Stats) {
	for f, s := range l.sides {
		if s != nil {
			all[f] = s.stats
			all[f].Line = s.port.decoder.Stats()
		}
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
	quiet  int // ticks since a frame came

	open  bool      // it is known whose frames these are
	since time.Time // when the first frame was held because it is not; zero before
}

func newSide(f device.Foot, strip *device.Strip, p *port) *side {
	return &side{foot: f, strip: strip, port: p}
}

// take makes a frame of l.message, or acts on it. It returns whether f is ready.
func (l *Link) take(f *device.Frame) (ready bool, err error) {
	m, p := &l.message, l.current.port
	if m.Hello != nil {
		return false, l.greet(p, m.Hello)
	}
	s, err := l.sideOf(p, m)
	if err != nil {
		return false, err
	}
	step, ok := l.place(s, m)
	if !ok {
		return false, nil
	}
	now := device.Frame{Foot: s.foot, Seq: step.Seq, TimeUS: step.TimeUS, ArrivalNS: l.arrival, Counts: m.Counts}
	text := m.Foot == device.NoFoot
	if len(l.held) > 0 || !s.open && !text { // text need not say hello
		l.hold(s, now)
		return false, nil
	}
	set(f, now)
	return true, nil
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

// greet checks that the strip that says h is that of the profile.
func (l *Link) greet(p *port, h *wire.Hello) error {
	if p.decoder.Stats().Format == wire.Text {
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
	s.stats.Hello, s.open = true, true
	return nil
}

// place finds where m stands in time, and notes what is missing before it. ok
// is false where m is to be left out.
func (l *Link) place(s *side, m *wire.Message) (step wire.Step, ok bool) {
	if s.stats.Clock == "" {
		s.stats.Clock, s.stats.HasSeq = "strip", m.HasSeq
		if !m.HasClock {
			s.stats.Clock = "host"
			l.warn("port %s: lines without a clock: the host's arrival time stands in for that of strip %s", s.port.name, s.strip.Name)
		}
	}
	// A damaged line of text can be short of just its clock, or be one cell too long.
	if m.HasClock == (s.stats.Clock == "host") {
		s.stats.Refused++
		return step, false
	}
	step = s.unwrap.Next(m, l.arrival)
	if step.Repeated {
		s.stats.Refused++
		return step, false
	}
	s.stats.Frames++
	s.quiet = 0
	gap := device.Event{TimeNS: l.arrival, Foot: s.foot, Kind: device.Gap, LengthS: float64(step.StepUS) / 1e6}
	switch {
	case step.Reset:
		gap.Cause, gap.Text = BoardReset, "the strip has started to count again"
	case step.Lost > 0:
		s.stats.Lost += uint64(step.Lost)
		gap.Cause, gap.Text = LostFrames, fmt.Sprintf("%d lost", step.Lost)
	default:
		return step, true
	}
	s.stats.Gaps++
	l.events = append(l.events, gap)
	return step, true
}

// hold keeps a frame until its strip, and those of the frames before it, have
// said who they are.
func (l *Link) hold(s *side, f device.Frame) {
	f.Counts = slices.Clone(f.Counts)
	l.held = append(l.held, f)
	if s.since.IsZero() {
		s.since = time.Now()
	}
	l.trust(l.wait)
}

// release sets f to the next frame that was held and need no longer be.
func (l *Link) release(f *device.Frame) bool {
	if len(l.held) == 0 || !l.sides[l.held[0].Foot].open {
		return false
	}
	set(f, l.held[0])
	if l.held = l.held[1:]; len(l.held) == 0 {
		l.held = nil
	}
	return true
}

// trust takes frames that have waited that long as the profile's strip, though
// the strip has not said so.
func (l *Link) trust(wait time.Duration) {
	for _, s := range l.sides {
		if s == nil || s.open || s.since.IsZero() || time.Since(s.since) < wait {
			continue
		}
		s.open = true
		l.warn("port %s: no hello within %s: frames of the %s foot are taken as strip %s of the profile",
			s.port.name, seconds(l.wait), s.foot, s.strip.Name)
	}
}

// set copies from into f, and reuses the counts of f.
func set(f *device.Frame, from device.Frame) {
	from.Counts = append(f.Counts[:0], from.Counts...)
	*f = from
}
