package wire

import (
	"math"

	"aplomb/device"
)

const (
	clockWrap = 1 << 32 // µs, 71.6 min
	seqWrap   = 1 << 16

	// A step of the clock longer than this is held against the host's clock.
	doubtfulUS = 60_000_000
)

// Unwrap follows the packet number and the clock of one foot past their wraps,
// and tells lost frames from a board that has started again. The zero value is
// ready for the first frame.
type Unwrap struct {
	started  bool
	seq      int64   // of the last frame, unwrapped
	time     uint64  // of the last frame, unwrapped, µs
	rawSeq   uint16  // as it was sent
	rawTime  uint64  // as it was sent
	arrival  int64   // of the last frame, ns
	periodUS float64 // mean time between frames that follow each other; 0 where not yet known
}

// Step is where a frame stands after the one before it.
type Step struct {
	Seq    int64  // device.NoSeq where the format does not number its frames
	TimeUS uint64 // always above that of the frame before
	Lost   int64  // frames missing in between; 0 where they are not numbered
	StepUS uint64 // time since the frame before; 0 for the first

	// Reset is set where the strip has started to count again: its clock fell
	// back by something that is not a wrap, or its numbers jumped further than
	// its clock. How many frames are missing is then not known. Seq goes on by
	// one, TimeUS by the time that has passed on the host.
	Reset bool

	// Repeated is set where the clock has not moved since the frame before.
	// Such a frame is to be left out, and is not counted here.
	Repeated bool
}

// Next places the frame m that arrived at arrivalNS, which never runs
// backwards. Where m has no clock, arrival stands in, pushed on by 1 µs where
// two frames arrived together.
func (u *Unwrap) Next(m *Message, arrivalNS int64) Step {
	if !u.started {
		return u.start(m, arrivalNS)
	}
	hostUS := uint64(max(0, arrivalNS-u.arrival)) / 1000
	if !m.HasClock {
		now := max(u.time+1, uint64(arrivalNS)/1000)
		return u.accept(m, arrivalNS, now-u.time, 1)
	}
	dt, ok := u.elapsed(m.TimeUS)
	if ok && dt == 0 {
		return Step{Seq: device.NoSeq, TimeUS: u.time, Repeated: true}
	}
	if !ok || dt > doubtfulUS && hostUS < dt/2 {
		return u.reset(m, arrivalNS, hostUS)
	}
	steps := int64(1)
	if m.HasSeq {
		if steps, ok = u.steps(m.Seq, dt); !ok {
			return u.reset(m, arrivalNS, hostUS)
		}
	}
	return u.accept(m, arrivalNS, dt, steps)
}

func (u *Unwrap) start(m *Message, arrivalNS int64) Step {
	*u = Unwrap{started: true, seq: device.NoSeq, time: m.TimeUS}
	if m.HasSeq {
		u.seq = int64(m.Seq)
	}
	if !m.HasClock {
		u.time = uint64(max(0, arrivalNS)) / 1000
	}
	u.remember(m, arrivalNS)
	return Step{Seq: u.seq, TimeUS: u.time}
}

func (u *Unwrap) remember(m *Message, arrivalNS int64) {
	u.rawSeq, u.rawTime, u.arrival = m.Seq, m.TimeUS, arrivalNS
}

// elapsed returns how far the clock has gone. A clock that has never shown
// 2^32 or more is one that wraps there; going forward by more than half of
// that is going back.
func (u *Unwrap) elapsed(raw uint64) (us uint64, ok bool) {
	us = raw - u.rawTime
	if raw < clockWrap && u.rawTime < clockWrap {
		us %= clockWrap
	}
	return us, us < clockWrap/2
}

// steps returns how many frames on this one is, by its number and, where the
// numbers may have wrapped unseen, by the clock.
func (u *Unwrap) steps(seq uint16, dt uint64) (n int64, ok bool) {
	n = int64(seq - u.rawSeq)
	if u.periodUS == 0 {
		return n, n > 0 && n < seqWrap/2
	}
	expected := float64(dt) / u.periodUS
	if wraps := math.Round((expected - float64(n)) / seqWrap); wraps > 0 {
		n += int64(wraps) * seqWrap
	}
	// A strip may pause and go on counting, so too few are no contradiction.
	return n, n > 0 && float64(n) <= 4+1.25*expected
}

func (u *Unwrap) accept(m *Message, arrivalNS int64, dt uint64, steps int64) Step {
	s := Step{Seq: device.NoSeq, StepUS: dt}
	u.time += dt
	s.TimeUS = u.time
	if m.HasSeq {
		u.seq += steps
		s.Seq, s.Lost = u.seq, steps-1
	}
	switch {
	case u.periodUS == 0:
		u.periodUS = float64(dt) / float64(steps)
	case steps == 1:
		u.periodUS += (float64(dt) - u.periodUS) / 64
	}
	u.remember(m, arrivalNS)
	return s
}

func (u *Unwrap) reset(m *Message, arrivalNS int64, hostUS uint64) Step {
	s := Step{Seq: device.NoSeq, StepUS: max(1, hostUS), Reset: true}
	u.time += s.StepUS
	s.TimeUS = u.time
	if m.HasSeq {
		u.seq++
		s.Seq = u.seq
	}
	u.periodUS = 0
	u.remember(m, arrivalNS)
	return s
}
