package sim

import (
	"context"
	"sync/atomic"
	"time"
)

// Clock is the host's clock of a session that runs faster than life. It stands
// still until it is set, and may be read and set at the same time. The zero
// Clock stands at 1970.
type Clock struct{ ns atomic.Int64 }

// Now returns the time the clock was set to.
func (c *Clock) Now() time.Time { return time.Unix(0, c.ns.Load()) }

// Set sets the clock.
func (c *Clock) Set(t time.Time) { c.ns.Store(t.UnixNano()) }

// Pace holds Serve back until a frame that arrives at a given time may be
// written. Serve calls it before each frame, and once more when the last has
// been written. An error ends Serve with that error.
type Pace func(ctx context.Context, at time.Time) error

// RealTime paces frames as life does: the first at once, the others as long
// after it as they arrive.
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

// LockStep paces frames by their reader. A frame is written, and the clock set
// to when it arrives, only after the one before it has been taken, so that
// everything comes out the same however fast the machine.
type LockStep struct {
	Clock   *Clock
	taken   chan struct{}
	waiting bool // a frame has been written
}

// NewLockStep returns a LockStep that sets clock.
func NewLockStep(clock *Clock) *LockStep {
	return &LockStep{Clock: clock, taken: make(chan struct{}, 1)}
}

// Taken says that the reader has taken a frame; call it once for each.
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
