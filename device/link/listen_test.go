//go:build unix

package link_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/wire"
)

// sending sends the result of say every 20 ms until the test ends.
func (b *board) sending(say func(n int) []byte) *board {
	stop := make(chan struct{})
	go func() {
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
				b.far.Write(say(n))
			}
		}
	}()
	b.Cleanup(func() { close(stop) })
	return b
}

// Listen reports for every port what is on it: hellos and frames of one strip or both,
// frames without a hello in both formats, silence, meaningless bytes, or the reason why
// it cannot be opened.
func TestListen(t *testing.T) {
	t.Parallel()
	l, r, wide := profile(device.Left), profile(device.Right), profile(device.Right)
	wide.Cols = 4
	both := newBoard(t).sending(func(n int) []byte {
		return frame(hello(hello(nil, device.Left), device.Right), device.Left, n)
	})
	frames := newBoard(t).sending(func(n int) []byte { return frame(nil, device.Right, n) })
	text := newBoard(t).sending(func(int) []byte { return []byte("1,2,3\n") })
	noise := newBoard(t).sending(func(int) []byte { return []byte("What is this?\n") })
	silent, busy, gone := newBoard(t), newBoard(t), filepath.Join(t.TempDir(), "gone")
	open(t, left(busy))

	heard := link.Listen(t.Context(), link.Listening{
		Ports:  []string{both.port, frames.port, text.port, noise.port, silent.port, busy.port, gone},
		Bauds:  []int{115200, 57600},
		Strips: []*device.Strip{l, r, wide},
		For:    10 * time.Second,
		Enough: func(h []link.Heard, since time.Duration) bool {
			return len(h[0].Hellos) == 2 && len(h[0].Fits) > 0 && len(h[1].Fits) > 0 && len(h[2].Fits) > 0 && h[3].Baud == 57600 && since > 0
		},
	})
	require.Len(t, heard, 7)
	assert.ElementsMatch(t, []wire.Hello{wire.HelloOf(l, 200), wire.HelloOf(r, 200)}, heard[0].Hellos)
	assert.Equal(t, []*device.Strip{l}, heard[0].Fits)
	assert.Equal(t, wire.Binary, heard[0].Format)
	assert.Equal(t, 115200, heard[0].Baud)
	assert.NoError(t, heard[0].Err)
	assert.Empty(t, heard[1].Hellos)
	assert.Equal(t, []*device.Strip{r}, heard[1].Fits, "a frame says its foot")
	assert.Equal(t, []*device.Strip{l, r}, heard[2].Fits[:2], "a line of text does not")
	assert.Equal(t, wire.Text, heard[2].Format)
	assert.Equal(t, wire.Unknown, heard[3].Format)
	assert.NotZero(t, heard[3].Bytes)
	assert.Equal(t, link.Heard{Port: silent.port, Baud: 115200, Done: true}, heard[4])
	assert.ErrorIs(t, heard[5].Err, link.ErrBusy)
	assert.ErrorIs(t, heard[6].Err, link.ErrNoPort)

	open(t, left(silent)) // it was let go of
}

// Hellos are heard without profiles too. A done context and a line that ends end the
// listening.
func TestListenEnds(t *testing.T) {
	t.Parallel()
	b := newBoard(t)
	b.sending(func(int) []byte { return hello(nil, device.Left) })
	ctx, cancel := context.WithCancel(t.Context())
	o := link.Listening{Ports: []string{b.port}, For: time.Minute, Enough: func(h []link.Heard, _ time.Duration) bool {
		if len(h[0].Hellos) > 0 {
			cancel()
		}
		return false
	}}
	heard := link.Listen(ctx, o)
	assert.Equal(t, []wire.Hello{wire.HelloOf(profile(device.Left), 200)}, heard[0].Hellos)
	assert.Equal(t, link.DefaultBaud, heard[0].Baud)

	dying := newBoard(t)
	o = link.Listening{Ports: []string{dying.port}, For: time.Minute, Enough: func([]link.Heard, time.Duration) bool {
		dying.far.Close()
		return false
	}}
	assert.ErrorIs(t, link.Listen(t.Context(), o)[0].Err, link.ErrLineEnded)
}
