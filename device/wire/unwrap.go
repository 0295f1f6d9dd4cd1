package wire

import (
	"math"

	"aplomb/device"
)

const (
	clockWrap = 1 << 32 // µs, 71.6 min
	seqWrap   = 1 << 16

	// slackUS is how much further than the host's clock the strip's may go
	// between two frames: the first of them may have lain in a buffer that long.
	slackUS = 5_000_000
	// skew is how much faster than the host's a strip's clock may run.
	skew = 0.02

	// A frame that is no more than lateFrames behind was overtaken or came
	// twice. Only when lateRun of them have come in a row is it a strip that
	// has started again.
	lateFrames = 64
	lateRun    = 8

	// A numbered or timed strip has paused where the next frame takes longer
	// than pausePeriods of the usual time, and pauseUS.
	pausePeriods = 3
	pauseUS      = 20_000
)

// Unwrap follows the packet number and the clock of one foot past their wraps,
// and tells apart lost frames, frames that come late or twice, and a strip that
// has started again. The zero value is ready for the first frame.
//
// A frame whose number and clock cannot follow those of the last one is not
// believed by itself, since damage that the checksum missed looks like that:
// it is left out, and only when the next one follows it has the strip started
// again. Where a restart is to be expected, see MayRestart and Resume, it is
// believed at once.
type Unwrap struct {
	started  bool
	seq      int64   // of the last frame, unwrapped
	time     uint64  // of the last frame, unwrapped, µs
	last     sent    // the last frame as it was sent
	periodUS float64 // mean time between frames that follow each other; 0 where not yet known

	unconfirmed    sent // the last frame that was not believed
	unconfirmedRun int  // how many of those there are that follow each other
	mayRestart     bool
	resumed        bool
}

// mark is a frame's place as it was sent, and its arrival, ns.
type sent struct {
	seq     uint16
	time    uint64
	arrival int64
}

// Place says whether a frame has one after those before it.
type Order uint8

const (
	InOrder     Order = iota
	Repeated          // the clock has not moved since the frame before
	Late              // overtaken by the frame before, or here a second time
	Unconfirmed       // cannot follow the frame before, and nothing bears it out yet
)

// Step is where a frame stands after the one before it.
type Step struct {
	Order  Order  // a frame that is not InOrder is to be left out, and is not counted in the next one's step
	Seq    int64  // device.NoSeq where the format does not number its frames
	TimeUS uint64 // always above that of the frame before
	Lost   int64  // frames missing in between; 0 where they are not numbered
	StepUS uint64 // time since the frame before; 0 for the first

	// Reset is set where the strip has started to count again: its clock fell
	// back or leapt by something that is not a wrap, or its numbers jumped
	// further than its clock. How many frames are missing is then not known.
	// Seq goes on by one, TimeUS by the time that has passed on the host.
	Reset bool

	// Paused is set where by the clock frames are missing, and by the numbers
	// none, or there are no numbers.
	Paused bool
}

// MayRestart says that the strip may have started again since the last frame,
// because it has said hello: a frame that does not follow is then believed at
// once, unless it looks late.
func (u *Unwrap) MayRestart() { u.mayRestart = true }

// Resume says that the line was out since the last frame: a frame that does not
// follow is then believed at once, and none can be late.
func (u *Unwrap) Resume() { u.mayRestart, u.resumed = true, true }

// Next places the frame m that arrived at arrivalNS, which never runs
// backwards. Where m has no clock, arrival stands in, pushed on by 1 µs where
// two frames arrived together.
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

func (u *Unwrap) leftOut(p Order) Step { return Step{Order: p, Seq: device.NoSeq, TimeUS: u.time} }

func sentOf(m *Message, arrivalNS int64) sent { return sent{m.Seq, m.TimeUS, arrivalNS} }

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

// follows returns how far m is from the frame at from, by the clock and by the
// number, and whether a strip that went on counting can have sent both.
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

// since is the time between two arrivals, µs.
func since(from, to int64) int64 { return max(0, to-from) / 1000 }

// elapsed returns how far the clock has gone, below zero where it has fallen
// back. A clock that has not shown 2^32 or more is one that wraps there: of all
// that it can have gone, what is nearest to the time that has passed on the host.
func elapsed(from, to uint64, hostUS int64) int64 {
	if from >= clockWrap || to >= clockWrap {
		return int64(to - from)
	}
	return hostUS + int64(int32(uint32(to)-uint32(from)-uint32(hostUS)))
}

// steps returns how many frames on one is whose number is ahead by n, which
// may have wrapped unseen, and whether it can be that many in that time.
func (u *Unwrap) framesAhead(ahead uint16, dtUS int64) (n int64, ok bool) {
	n = int64(ahead)
	if u.periodUS == 0 {
		return n, n > 0 && n < seqWrap/2
	}
	expected := float64(dtUS) / u.periodUS
	if wraps := math.Round((expected - float64(n)) / seqWrap); wraps > 0 {
		n += int64(wraps) * seqWrap
	}
	// A strip may pause and go on counting, so too few are no contradiction.
	return n, n > 0 && float64(n) <= 4+1.25*expected
}

// overtaken says whether m, whose clock is dt from the last frame's, is a
// little behind it, by the clock and by the number alike.
func (u *Unwrap) overtaken(dtUS int64, m *Message) bool {
	behind := float64(-dtUS)
	if behind < 0 || behind > lateFrames*u.periodUS {
		return false
	}
	frames := float64(u.last.seq - m.Seq)
	return !m.HasSeq || math.Abs(behind-frames*u.periodUS) <= (1+0.25*frames)*u.periodUS
}

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

// settle makes m the last frame.
func (u *Unwrap) setLast(m *Message, arrivalNS int64) {
	u.last = sentOf(m, arrivalNS)
	u.unconfirmedRun, u.mayRestart, u.resumed = 0, false, false
}
