package sim

import (
	"context"
	"sync/atomic"
	"time"
)

// Clock is the host's clock for a session that runs faster than real time. It shows the time
// that it was last set to, at first 1970. It may be read and set concurrently.
type Clock struct{ ns atomic.Int64 }

// Now returns the time that the clock was last set to.
func (c *Clock) Now() time.Time { return time.Unix(0, c.ns.Load()) }

// Set sets the clock.
func (c *Clock) Set(t time.Time) { c.ns.Store(t.UnixNano()) }

// Pace delays Serve until a frame that arrives at a given time may be written. Serve calls it
// before each frame, and once more after the last one. Its error ends Serve.
type Pace func(ctx context.Context, at time.Time) error

// RealTime returns a Pace in real time: the first frame is written at once, the others as
// long after it as they arrive.
func RealTime() Pace {
	var began, first time.Time
	return func(ctx context.Context, at time.Time) error {
		if began.IsZero() {
			began, first = time.Now(), at
		}
		wait := time.NewTimer(time.Until(began.Add(at.Sub(first))))
		defer wait.Stop()
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-wait.C:
			return nil
		}
	}
}

// LockStep writes the next frame, and sets the clock to its arrival, only after the reader has
// taken the one before, so that the result does not depend on the speed of the machine.
type LockStep struct {
	Clock   *Clock
	taken   chan struct{}
	waiting bool // a frame has been written
}

// NewLockStep returns a LockStep that sets clock.
func NewLockStep(clock *Clock) *LockStep {
	return &LockStep{Clock: clock, taken: make(chan struct{}, 1)}
}

// Taken notes that the reader has taken a frame. It is called once for each frame.
func (l *LockStep) Taken() { l.taken <- struct{}{} }

// Pace is a Pace for one call of Serve.
func (l *LockStep) Pace(ctx context.Context, at time.Time) error {
	if l.waiting {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-l.taken:
		}
	}
	l.waiting = true
	l.Clock.Set(at)
	return ctx.Err()
}
