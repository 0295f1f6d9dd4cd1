package trace_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
	"aplomb/device"
)

// both returns the logs of two feet.
func both(t require.TestingT, left, right []device.Frame) [2]*trace.Log {
	for i := range right {
		right[i].Foot = device.Right
	}
	logs, err := trace.Run(context.Background(), device.Merge(&film{frames: left}, &film{frames: right}), [2]*trace.Strip{onStrip(), onStrip()}, nil)
	require.NoError(t, err)
	return logs
}

func still(float64, int) float64 { return 0 }

// without leaves out the frames from first up to, not including, end.
func without(frames []device.Frame, first, end int) []device.Frame {
	return append(frames[:first:first], frames[end:]...)
}

func afterGaps(log *trace.Log) (at []int) {
	for i, s := range log.Samples {
		if s.Flags&measure.AfterGap != 0 {
			at = append(at, i)
		}
	}
	return at
}

func TestGapsByNumber(t *testing.T) {
	frames := shoot(100, 5, still)
	for i := range frames {
		frames[i].Seq += 70_000 // a strip that has been running
	}
	frames = without(without(frames, 400, 410), 100, 101)
	log := develop(t, frames)
	assert.EqualValues(t, 11, log.Lost)
	assert.Equal(t, 489, log.Frames)
	assert.Equal(t, []int{100, 399}, afterGaps(log))
}

func TestGapsByTime(t *testing.T) {
	frames := shoot(100, 5, still)
	for i := range frames {
		frames[i].Seq = device.NoSeq
	}
	// A pause of up to three intervals may be jitter; a long gap does not hide a short
	// one.
	frames = without(without(without(frames, 400, 404), 300, 390), 100, 102)
	log := develop(t, frames)
	assert.EqualValues(t, -1, log.Lost, "cannot be known")
	assert.Equal(t, []int{298, 308}, afterGaps(log))
}

// A strip whose rate falls has gaps only until the usual interval has adapted.
func TestSlowerIsNotAllGaps(t *testing.T) {
	frames := append(shoot(1000, 0.5, still), shoot(20, 20, still)...)
	for i := range frames {
		frames[i].Seq = device.NoSeq
		if i >= 500 {
			frames[i].TimeUS += 550_000
			frames[i].ArrivalNS += 550_000_000
		}
	}
	assert.Less(t, len(afterGaps(develop(t, frames))), 40)
}

// run gives frames the clock of a strip that starts at firstUS and, from the host's time
// at, s, on, runs fast by ppm. A frame takes 2 ms to arrive.
func run(frames []device.Frame, at float64, firstUS uint64, ppm float64) {
	for i := range frames {
		host := at + float64(frames[i].ArrivalNS-epochNS)/1e9
		frames[i].TimeUS = firstUS + uint64(math.Round((host-at)*1e6*(1+ppm/1e6)))
		frames[i].ArrivalNS = epochNS + int64(host*1e9) + 2_000_000
	}
}

// Strips whose clocks start at different moments and run at different speeds are both
// converted to the host's time.
func TestTwoClocks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ppm := rapid.OneOf(rapid.Float64Range(-100, 100), rapid.SampledFrom([]float64{-5000, -100, 0, 100, 5000}))
		firstUS := rapid.SampledFrom([]uint64{0, 12_345_678, 1 << 32, 1 << 50})
		late := rapid.Float64Range(-2, 2).Draw(t, "right begins later by, s")
		left, right := shoot(50, 20, still), shoot(62.5, 20, still)
		at := [2]float64{max(0, -late), max(0, late)}
		run(left, at[0], firstUS.Draw(t, "left counts from"), ppm.Draw(t, "left, ppm"))
		run(right, at[1], firstUS.Draw(t, "right counts from"), ppm.Draw(t, "right, ppm"))
		logs := both(t, left, right)
		for f, rate := range [2]float64{50, 62.5} {
			for i, s := range logs[f].Samples {
				if want := at[f] + float64(i)/rate; math.Abs(s.T-want) > 2e-5 {
					t.Fatalf("foot %d sample %d at %.6f s, was at %.6f", f, i, s.T, want)
				}
			}
			clock := logs[f].Clock
			first := [2][]device.Frame{left, right}[f][0].TimeUS
			if math.Abs(clock.Seconds(first)-at[f]) > 2e-5 {
				t.Fatalf("clock of foot %d begins at %v", f, clock.Seconds(first))
			}
		}
	})
}

// A simultaneous load on both feet has the same time on both, in samples, zeros and maps.
func TestOneLoadTwoClocks(t *testing.T) {
	step := func(at float64) func(float64, int) float64 {
		return func(t float64, _ int) float64 { return even(300) * pulse(t+at, 20.999, 23.999, 1e-9) }
	}
	left, right := shoot(200, 30, step(0)), shoot(200, 29, step(1))
	run(left, 0, 99, 5000)
	run(right, 1, 1<<40, -5000)
	logs := both(t, left, right)
	for _, log := range logs {
		var first, last float64
		for _, s := range log.Samples {
			if s.LoadN > 150 && first == 0 {
				first = s.T
			}
			if s.LoadN > 150 {
				last = s.T
			}
		}
		assert.InDelta(t, 21, first, 0.0051)
		assert.InDelta(t, 24, last, 0.0051)
		assert.InDelta(t, 20.8, log.Zeros[1].T, 0.2, "just before the load")
		assert.Equal(t, 600, log.Map(20.99, 24.01, log.ZeroAt(20.99)).Frames, "all of it, though a tenth is not a tenth on these clocks")
	}
}

// A strip that restarts leaves a gap although no number is missing, and its clock is off
// afterwards, because TimeUS continued from a frame that had been delayed.
func TestStartsAgain(t *testing.T) {
	frames := shoot(200, 20, still)
	for i := range frames {
		switch {
		case i == 1999:
			frames[i].ArrivalNS += 200_000_000
		case i >= 2000:
			frames[i].ArrivalNS += 300_000_000
			frames[i].TimeUS += 100_000
		}
	}
	frames[2000].Restarted = true
	log := develop(t, frames)
	assert.Equal(t, []int{2000}, afterGaps(log))
	for i, s := range log.Samples {
		want := float64(i) / 200
		if i >= 2000 {
			want += 0.3
		}
		require.InDelta(t, want, s.T, 2e-6, "sample %d", i)
	}
	assert.InDelta(t, 15.3, log.Clock.Seconds(frames[3000].TimeUS), 2e-6)
}
