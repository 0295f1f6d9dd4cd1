package device_test

import (
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
)

// numberedFrames is a Source of a number of frames, each with its number in every field,
// and of the error after them.
type numberedFrames struct {
	n, at int
	then  error
}

func (r *numberedFrames) Next(f *device.Frame) error {
	if r.at == r.n {
		return r.then
	}
	*f = device.Frame{Seq: int64(r.at), TimeUS: uint64(r.at), Counts: append(f.Counts[:0], uint16(r.at), uint16(r.at>>16))}
	r.at++
	return nil
}

// Ahead returns the frames of its source in order, and its error at the end.
func TestReadAhead(t *testing.T) {
	broken := errors.New("broken")
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.OneOf(rapid.IntRange(0, 3), rapid.SampledFrom([]int{1023, 1024, 1025, 30_000})).Draw(t, "frames")
		then := rapid.SampledFrom([]error{io.EOF, broken}).Draw(t, "then")
		a := device.ReadAhead(&numberedFrames{n: n, then: then})
		defer a.Close()
		var f device.Frame
		for i := range n {
			require.NoError(t, a.Next(&f))
			require.Equal(t, int64(i), f.Seq)
			require.Equal(t, []uint16{uint16(i), uint16(i >> 16)}, f.Counts)
		}
		for range 3 {
			require.Equal(t, then, a.Next(&f))
		}
	})
}

// Close ends the goroutine even if nothing has been read. No frames come after it.
func TestReadAheadIsLeft(t *testing.T) {
	for _, read := range []int{0, 1, 1024, 20_000} {
		src := &numberedFrames{n: 1 << 30}
		a := device.ReadAhead(src)
		var f device.Frame
		for range read {
			require.NoError(t, a.Next(&f))
		}
		a.Close()
		at := src.at // no race: the goroutine has ended
		assert.Error(t, a.Next(&f))
		assert.Equal(t, at, src.at)
	}
}

// After the first frames reading allocates no memory.
func TestReadAheadAllocatesNothing(t *testing.T) {
	read := func(n int) float64 {
		return testing.AllocsPerRun(1, func() {
			a := device.ReadAhead(&numberedFrames{n: n, then: io.EOF})
			defer a.Close()
			var f device.Frame
			for a.Next(&f) == nil {
			}
		})
	}
	assert.InDelta(t, read(40_000), read(80_000), 2)
}
