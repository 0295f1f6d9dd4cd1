package trace_test

import (
	"context"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/trace"
	"aplomb/device"
)

// loop is a Source of n frames of one foot at 200 Hz without allocation, with a relevé of
// 4 s every 6 s.
type loop struct {
	once []device.Frame
	n, i int
}

func newLoop(n int) *loop {
	return &loop{n: n, once: shoot(200, 6, func(at float64, k int) float64 {
		return offset(k) + pulse(at, 1, 5, 0.3)*tilted(400, 0, 2*math.Sin(at), k)
	})}
}

func (l *loop) Next(f *device.Frame) error {
	if l.i == l.n {
		return io.EOF
	}
	counts := append(f.Counts[:0], l.once[l.i%len(l.once)].Counts...)
	us := uint64(l.i) * 5000
	*f = device.Frame{Seq: int64(l.i), TimeUS: us, ArrivalNS: epochNS + int64(us)*1000, Counts: counts}
	l.i++
	return nil
}

// A frame allocates nothing. Each tenth of a second allocates two slices for its map
// under load and one for its window where the load is level, and each load one for its
// zero.
func TestFramesAllocateNothing(t *testing.T) {
	const n = 24_000 // 20 relevés
	allocations := func(n int) float64 {
		source := newLoop(n)
		strip := onStrip()
		strip.SizeHint = n
		return testing.AllocsPerRun(1, func() {
			source.i = 0
			_, err := trace.Run(context.Background(), source, [2]*trace.Strip{strip, nil}, nil)
			require.NoError(t, err)
		})
	}
	more := allocations(2*n) - allocations(n)
	const tenths, zeros, growth = n / 20, 20, 20
	assert.LessOrEqual(t, more, float64(3*tenths+zeros+growth), "for %d frames more", n)
}

func BenchmarkTrace(b *testing.B) {
	const n = 120_000
	source := newLoop(n)
	strip := onStrip()
	strip.SizeHint = n
	b.ReportAllocs()
	for b.Loop() {
		source.i = 0
		_, err := trace.Run(context.Background(), source, [2]*trace.Strip{strip, nil}, nil)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.N)*n/b.Elapsed().Seconds(), "frames/s")
	allocations := testing.AllocsPerRun(1, func() {
		source.i = 0
		_, _ = trace.Run(context.Background(), source, [2]*trace.Strip{strip, nil}, nil)
	})
	b.ReportMetric(allocations/n, "allocs/frame")
}
