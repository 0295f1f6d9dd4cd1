package capture

import (
	"context"
	"fmt"
	"io"
	"time"
)

// Signal is an audible signal to a user whose hands are on a shoe.
type Signal int

const (
	Pressed Signal = iota // the platforms have been pressed
	Counted               // a relevé counts
	Enough                // every foot has as many relevés as planned
	Halt                  // frames of a foot do not arrive
)

// Bell rings the bell of a terminal: once to four times for a signal, in the order of the
// constants, so that signals can be distinguished by ear. One signal follows the other.
type Bell struct {
	on      io.Writer
	pause   func(time.Duration)
	pending chan Signal
}

// NewBell returns the bell of a terminal, which rings until ctx is done.
func NewBell(ctx context.Context, on io.Writer) *Bell {
	b := newBell(on, func(d time.Duration) {
		select {
		case <-time.After(d):
		case <-ctx.Done():
		}
	})
	go b.run(ctx)
	return b
}

func newBell(on io.Writer, pause func(time.Duration)) *Bell {
	return &Bell{on: on, pause: pause, pending: make(chan Signal, 4)}
}

// run rings signals until ctx is done.
func (b *Bell) run(ctx context.Context) {
	for {
		select {
		case s := <-b.pending:
			b.ring(s)
		case <-ctx.Done():
			return
		}
	}
}

// Ring queues a signal. It does not wait, and drops a signal that could be rung only much
// later.
func (b *Bell) Ring(s Signal) {
	select {
	case b.pending <- s:
	default:
	}
}

// Pauses between the bells of a signal and after a signal: our own choice, long enough for
// bells that sound for a quarter of a second.
const (
	betweenBells = 300 * time.Millisecond
	afterSignal  = 900 * time.Millisecond
)

func (b *Bell) ring(s Signal) {
	for n := range int(s) + 1 {
		if n > 0 {
			b.pause(betweenBells)
		}
		fmt.Fprint(b.on, "\a")
	}
	b.pause(afterSignal)
}
