package capture

import (
	"bytes"
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Signals differ in the number of bells, with a longer pause after each signal.
func TestBell(t *testing.T) {
	var heard bytes.Buffer
	b := newBell(&heard, func(d time.Duration) { fmt.Fprintf(&heard, " %d ", d.Milliseconds()) })
	for s, want := range map[Signal]string{
		Pressed: "\a 900 ", Counted: "\a 300 \a 900 ", Enough: "\a 300 \a 300 \a 900 ", Halt: "\a 300 \a 300 \a 300 \a 900 ",
	} {
		heard.Reset()
		b.ring(s)
		assert.Equal(t, want, heard.String())
	}
}

// Signals are rung one after the other, and no caller waits for them.
func TestBellsFollowEachOther(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	heard := make(writes)
	b := newBell(heard, func(time.Duration) { heard <- "pause" })
	go b.run(ctx)
	b.Ring(Counted)
	b.Ring(Pressed)
	for _, want := range []string{"\a", "pause", "\a", "pause", "\a", "pause"} {
		require.Equal(t, want, <-heard)
	}
	for range 100 {
		b.Ring(Halt) // more than can wait
	}
}

type writes chan string

func (w writes) Write(p []byte) (int, error) {
	w <- string(p)
	return len(p), nil
}
