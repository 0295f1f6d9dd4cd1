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
	LostFrames  = "lost frames"    // without other data in their place
	Damaged     = "damaged frames" // with data that was no frame
	BoardReset  = "board reset"    // the strip has restarted
	StripPaused = "strip paused"   // time passed between two frames with consecutive numbers
	LineSilent  = "line silent"    // no byte came
	CableOut    = "cable out"      // the port vanished
	WrongStrip  = "wrong strip"    // another strip was on the port
)

const (
	// stall is the time without a byte from which a line counts as silent. A USB
	// adapter can hold back bytes for a fifth of a second.
	stall = 500 * time.Millisecond
	// stallEffect is how long after a stall missing frames are attributed to it:
	// the frames in the buffers come first, and the loss shows only after them.
	stallEffect = time.Second
)

// outage describes why a foot has no line.
type outage struct {
	cause   string // what began it, a cause of a device.Gap; "" while there is none
	reasons []Notice
}

// texts returns the reasons in words.
func (o *outage) texts() (all []string) {
	for _, n := range o.reasons {
		all = append(all, n.String())
	}
	return all
}

// setOut records that a foot has no line, or one with another strip on it.
func (l *Link) setOut(s *footState, cause string, why Notice) {
	s.out.cause = cmp.Or(s.out.cause, cause)
	if !slices.Contains(s.out.reasons, why) {
		s.out.reasons = append(s.out.reasons, why)
	}
	l.setAway(s, why)
}

// setAway records why no frames of a foot arrive, or with the zero Notice that they do,
// and passes a change on to Options.Notify.
func (l *Link) setAway(s *footState, why Notice) {
	if s.stats.Away == why {
		return
	}
	s.stats.Away = why
	if l.notify != nil {
		l.notify(s.foot, why)
	}
}

// noteStall is called when bytes have arrived on n. It records a silence before them.
func (l *Link) noteStall(n *line) {
	if n.port != nil && n.heard > 0 && l.arrival-n.heard > stall.Nanoseconds() {
		for _, f := range n.port.feet {
			l.feet[f].stalled = l.arrival + stallEffect.Nanoseconds()
		}
	}
	n.heard, n.quiet = l.arrival, 0
}

// noteGap adds an event for frames missing before the frame of s at step, with the cause,
// and for the end of an outage.
func (l *Link) noteGap(s *footState, n *line, step wire.Step, arrival int64) {
	dropped := droppedBy(n.decoder)
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
		gap.Text = strings.Join(append(s.out.texts(), gap.Text), "; ")
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
	l.setAway(s, Notice{})
}

// droppedBy returns how many packets or lines a decoder has dropped.
func droppedBy(d *wire.Decoder) (all uint64) {
	for _, n := range d.Stats().Bad {
		all += n
	}
	return all
}

// noteLastGaps adds events for the gaps that are still open when the source ends.
func (l *Link) noteLastGaps() {
	for _, s := range l.feet {
		if !l.begun || s == nil || s.stats.Away == (Notice{}) && l.tickEvery*time.Duration(s.quiet) <= stall {
			continue
		}
		now := max(l.arrival, l.readers.clock.Now().UnixNano())
		long := time.Duration(now - s.arrival)
		if s.out.cause == "" && long <= stall {
			continue
		}
		s.stats.Gaps++
		cause := LineSilent
		if n := s.port.line; n != nil && now-n.heard <= stall.Nanoseconds() {
			cause = Damaged // for example, the strip's clock has stopped
		}
		l.events = append(l.events, device.Event{TimeNS: now, Foot: s.foot, Kind: device.Gap, Cause: cmp.Or(s.out.cause, cause),
			LengthS: long.Seconds(), Text: strings.Join(append(s.out.texts(), "until the end"), "; ")})
	}
}
