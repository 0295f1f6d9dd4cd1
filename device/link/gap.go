package link

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// Causes of a device.Gap.
const (
	LostFrames  = "lost frames"    // and nothing came in their place
	Damaged     = "damaged frames" // something came that was no frame
	BoardReset  = "board reset"    // the strip has started again
	StripPaused = "strip paused"   // it left out a time, and no number
	LineSilent  = "line silent"    // nothing came at all
	CableOut    = "cable out"      // the port vanished
	WrongStrip  = "wrong strip"    // another strip was there
)

const (
	// stall is how long nothing may come until a line counts as silent. A USB
	// adapter can keep what it has for a fifth of a second.
	stall = 500 * time.Millisecond
	// aftermath is for how long what is missing is put down to a silence: what
	// was in the buffers comes first, and only then shows what they had no room for.
	aftermath = time.Second
)

// outage is why a line is not there: what began it, and what else was seen.
type outage struct {
	cause string // "" while there is none
	notes []string
}

// goOut notes that s has no line, or one with another strip on it.
func (l *Link) goOut(s *side, cause, why string) {
	s.out.cause = cmp.Or(s.out.cause, cause)
	if !slices.Contains(s.out.notes, why) {
		s.out.notes = append(s.out.notes, why)
	}
	l.tell(s, why)
}

// tell says why there are no frames of s, or with "" that there are again.
func (l *Link) tell(s *side, why string) {
	if s.stats.Away == why {
		return
	}
	s.stats.Away = why
	if l.notice != nil {
		l.notice(s.foot, why)
	}
}

// noteStall notes that nothing had come on n for long.
func (l *Link) noteStall(n *line) {
	if n.port != nil && n.heard > 0 && l.arrival-n.heard > stall.Nanoseconds() {
		for _, f := range n.port.feet {
			l.sides[f].stalled = l.arrival + aftermath.Nanoseconds()
		}
	}
	n.heard, n.quiet = l.arrival, 0
}

// account notes what is missing before the frame of s that is at step, and why.
func (l *Link) account(s *side, n *line, step wire.Step, arrival int64) {
	dropped := bad(n.decoder)
	damaged := dropped != s.dropped
	s.dropped = dropped
	stalled := arrival <= s.stalled

	gap := device.Event{TimeNS: arrival, Foot: s.foot, Kind: device.Gap, LengthS: float64(step.StepUS) / 1e6}
	missing := true
	switch {
	case step.Reset:
		gap.Cause, gap.Text = BoardReset, "the strip has started to count again"
	case step.Lost > 0:
		gap.Cause, gap.Text = LostFrames, fmt.Sprintf("%d lost", step.Lost)
	case step.Paused && s.stats.HasSeq:
		gap.Cause, gap.Text = StripPaused, "none is missing by their numbers"
	case step.Paused, s.stats.Clock == "host" && gap.LengthS > stall.Seconds():
		gap.Cause, gap.Text = LostFrames, "frames are not numbered: how many is not known"
	default:
		missing = false
	}
	switch {
	case s.out.cause != "":
		gap.Cause = s.out.cause
		gap.Text = strings.Join(append(s.out.notes, gap.Text), "; ")
	case step.Reset:
	case stalled:
		gap.Cause = LineSilent
	case damaged:
		gap.Cause = Damaged
	}
	if missing {
		s.stats.Gaps++
		l.events = append(l.events, gap)
	}
	if s.out.cause != "" {
		l.events = append(l.events, device.Event{TimeNS: arrival, Foot: s.foot, Kind: device.Reconnect, Cause: s.out.cause,
			LengthS: gap.LengthS, Text: fmt.Sprintf("strip %s on port %s", s.strip.Name, n.name)})
	}
	s.out = outage{}
	l.tell(s, "")
}

// bad is how many packets or lines a decoder has dropped.
func bad(d *wire.Decoder) (all uint64) {
	for _, n := range d.Stats().Bad {
		all += n
	}
	return all
}

// lastGaps notes what is missing at the end.
func (l *Link) lastGaps() {
	for _, s := range l.sides {
		if !l.begun || s == nil || s.stats.Away == "" && l.each*time.Duration(s.quiet) <= stall {
			continue
		}
		now := max(l.arrival, l.readers.clock.Now().UnixNano())
		long := time.Duration(now - s.arrival)
		if s.out.cause == "" && long <= stall {
			continue
		}
		s.stats.Gaps++
		l.events = append(l.events, device.Event{TimeNS: now, Foot: s.foot, Kind: device.Gap, Cause: cmp.Or(s.out.cause, LineSilent),
			LengthS: long.Seconds(), Text: strings.Join(append(s.out.notes, "until the end"), "; ")})
	}
}
