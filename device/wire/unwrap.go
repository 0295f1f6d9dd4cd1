package wire

import (
	"math"

	"aplomb/device"
)

const (
	clockWrap = 1 << 32 // µs, 71.6 min
	seqWrap   = 1 << 16

	// slackUS is the largest difference by which the strip's clock may advance more than
	// the host's between two frames: the first of them may have waited in a buffer.
	slackUS = 5_000_000
	// skew is the relative amount by which a strip's clock may run faster than the host's.
	skew = 0.02

	// A frame at most lateFrames behind the last one was overtaken or came twice. When
	// lateRun of them have come in a row the strip has restarted instead.
	lateFrames = 64
	lateRun    = 8

	// A strip with a clock has paused where the time to the next frame is more than
	// pausePeriods mean intervals and more than pauseUS.
	pausePeriods = 3
	pauseUS      = 20_000
)

// Unwrap extends the frame number and the clock of one foot beyond their wraps, and
// distinguishes lost frames, frames that arrive late or twice, and a strip that has
// restarted. The zero Unwrap is ready for the first frame.
//
// A frame whose number and clock cannot follow those of the last one is left out, because
// undetected damage looks like that. When the next frame follows it the strip has
// restarted. Where a restart is expected (see MayRestart and Resume) such a frame counts
// as a restart at once.
type Unwrap struct {
	started  bool
	seq      int64   // of the last frame, unwrapped
	time     uint64  // of the last frame, unwrapped, µs
	last     sent    // the last frame as it was sent
	periodUS float64 // mean time between successive frames, µs; 0 where it is not known yet

	unconfirmed    sent // the last frame that could not follow
	unconfirmedRun int  // number of such frames that follow each other
	mayRestart     bool
	resumed        bool
}

// sent is the number and the time of a frame as they were sent, and its arrival in ns.
type sent struct {
	seq     uint16
	time    uint64
	arrival int64
}

// Order reports whether a frame can follow the one before it.
type Order uint8

const (
	InOrder     Order = iota
	Repeated          // the clock has not moved since the frame before
	Late              // overtaken by the frame before, or received twice
	Unconfirmed       // cannot follow the frame before, and no other frame confirms it yet
)

// Step is the result of unwrapping one frame.
type Step struct {
	Order  Order  // a frame that is not InOrder is to be left out; the next Step does not count it
	Seq    int64  // device.NoSeq where the format does not number its frames
	TimeUS uint64 // always above that of the frame before
	Lost   int64  // frames missing since the frame before; 0 where they are not numbered
	StepUS uint64 // time since the frame before; 0 for the first

	// Reset is set where the strip has restarted: its clock went back or jumped by
	// something that is not a wrap, or its numbers jumped further than its clock. How
	// many frames are missing is then not known. Seq advances by one, TimeUS by the
	// time that has passed on the host.
	Reset bool

	// Paused is set where frames are missing according to the clock, and none
	// according to the numbers or there are no numbers.
	Paused bool
}

// MayRestart notes that the strip may have restarted since the last frame, because it
// has sent a Hello: a frame that cannot follow then counts as a restart at once,
// unless it looks late.
func (u *Unwrap) MayRestart() { u.mayRestart = true }

// Resume notes that the line was out since the last frame: a frame that cannot follow
// then counts as a restart at once, and none can be late.
func (u *Unwrap) Resume() { u.mayRestart, u.resumed = true, true }

// Next unwraps the frame m, which arrived at arrivalNS; arrivals never run backwards.
// Where m has no clock the arrival is its time, 1 µs later where two frames arrived
// together.
func (u *Unwrap) Next(m *Message, arrivalNS int64) Step {
	if !u.started {
		return u.start(m, arrivalNS)
	}
	if !m.HasClock {
		now := max(u.time+1, uint64(arrivalNS)/1000)
		return u.accept(m, arrivalNS, int64(now-u.time), 1)
	}
	dt, steps, ok := u.follows(&u.last, m, arrivalNS)
	switch {
	case ok:
		return u.accept(m, arrivalNS, dt, steps)
	case dt == 0 && !u.resumed:
		return u.leftOut(Repeated)
	}
	place, enough := Unconfirmed, 2
	if !u.resumed && u.overtaken(dt, m) {
		place, enough = Late, lateRun
	} else if u.mayRestart {
		enough = 1
	}
	if _, _, ok := u.follows(&u.unconfirmed, m, arrivalNS); ok && u.unconfirmedRun > 0 {
		u.unconfirmedRun++
	} else {
		u.unconfirmedRun = 1
	}
	if u.unconfirmedRun >= enough {
		return u.reset(m, arrivalNS)
	}
	u.unconfirmed = sentOf(m, arrivalNS)
	return u.leftOut(place)
}

// leftOut returns the Step of a frame that is to be left out.
func (u *Unwrap) leftOut(p Order) Step { return Step{Order: p, Seq: device.NoSeq, TimeUS: u.time} }

func sentOf(m *Message, arrivalNS int64) sent { return sent{m.Seq, m.TimeUS, arrivalNS} }

// start makes m the first frame.
func (u *Unwrap) start(m *Message, arrivalNS int64) Step {
	*u = Unwrap{started: true, seq: device.NoSeq, time: m.TimeUS, last: sentOf(m, arrivalNS)}
	if m.HasSeq {
		u.seq = int64(m.Seq)
	}
	if !m.HasClock {
		u.time = uint64(max(0, arrivalNS)) / 1000
	}
	return Step{Seq: u.seq, TimeUS: u.time}
}

// follows returns the differences in time and in number from the frame at from to m,
// and whether a strip that did not restart can have sent both.
func (u *Unwrap) follows(from *sent, m *Message, arrivalNS int64) (dtUS, steps int64, ok bool) {
	host := since(from.arrival, arrivalNS)
	dtUS = elapsed(from.time, m.TimeUS, host)
	ok = dtUS > 0 && float64(dtUS) <= float64(host)*(1+skew)+slackUS
	if !m.HasSeq {
		return dtUS, 1, ok
	}
	steps, possible := u.framesAhead(m.Seq-from.seq, dtUS)
	return dtUS, steps, ok && possible
}

// since returns the time between two arrivals, µs.
func since(from, to int64) int64 { return max(0, to-from) / 1000 }

// elapsed returns how far the clock has advanced, below 0 where it went back. A clock
// that has not shown 2^32 or more wraps there: the result is then, of all that are
// possible, the nearest to the time that has passed on the host.
func elapsed(from, to uint64, hostUS int64) int64 {
	if from >= clockWrap || to >= clockWrap {
		return int64(to - from)
	}
	return hostUS + int64(int32(uint32(to)-uint32(from)-uint32(hostUS)))
}

// framesAhead returns by how many frames a number is ahead that differs by ahead and may
// have wrapped in between, and whether there can be so many in that time.
func (u *Unwrap) framesAhead(ahead uint16, dtUS int64) (n int64, ok bool) {
	n = int64(ahead)
	if u.periodUS == 0 {
		return n, n > 0 && n < seqWrap/2
	}
	expected := float64(dtUS) / u.periodUS
	if wraps := math.Round((expected - float64(n)) / seqWrap); wraps > 0 {
		n += int64(wraps) * seqWrap
	}
	// Too few are possible: a strip may pause and then go on counting.
	return n, n > 0 && float64(n) <= 4+1.25*expected
}

// overtaken reports whether m, whose time differs from that of the last frame by dtUS, is a
// little behind it according to both clock and number.
func (u *Unwrap) overtaken(dtUS int64, m *Message) bool {
	behind := float64(-dtUS)
	if behind < 0 || behind > lateFrames*u.periodUS {
		return false
	}
	frames := float64(u.last.seq - m.Seq)
	return !m.HasSeq || math.Abs(behind-frames*u.periodUS) <= (1+0.25*frames)*u.periodUS
}

// accept makes m the last frame, a number of steps and dtUS after the one before.
func (u *Unwrap) accept(m *Message, arrivalNS, dtUS, steps int64) Step {
	u.time += uint64(dtUS)
	s := Step{Seq: device.NoSeq, TimeUS: u.time, StepUS: uint64(dtUS)}
	if m.HasSeq {
		u.seq += steps
		s.Seq, s.Lost = u.seq, steps-1
	}
	if m.HasClock && steps == 1 && u.periodUS > 0 {
		usual := pausePeriods * u.periodUS
		s.Paused = float64(dtUS) > max(usual, pauseUS)
		u.periodUS += (min(float64(dtUS), usual) - u.periodUS) / 64
	} else if u.periodUS == 0 {
		u.periodUS = float64(dtUS) / float64(steps)
	}
	u.setLast(m, arrivalNS)
	return s
}

// reset makes m the last frame, as the first one after a restart.
func (u *Unwrap) reset(m *Message, arrivalNS int64) Step {
	s := Step{Seq: device.NoSeq, StepUS: uint64(max(1, since(u.last.arrival, arrivalNS))), Reset: true}
	u.time += s.StepUS
	s.TimeUS = u.time
	if m.HasSeq {
		u.seq++
		s.Seq = u.seq
	}
	u.periodUS = 0
	u.setLast(m, arrivalNS)
	return s
}

// setLast makes m the last frame.
func (u *Unwrap) setLast(m *Message, arrivalNS int64) {
	u.last = sentOf(m, arrivalNS)
	u.unconfirmedRun, u.mayRestart, u.resumed = 0, false, false
}
