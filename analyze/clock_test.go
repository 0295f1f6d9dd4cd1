package analyze_test

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/device"
)

// board simulates a strip with its own clock and its own serial line.
type board struct {
	foot   device.Foot
	ppm    float64 // how much its clock runs fast
	baud   int     // 94 bytes of ten bits each for a frame
	phase  float64 // s: the host receives data at this time and every 16 ms after it
	resets float64 // s: when it restarts, 0 for never
}

// send returns the frames of the board over a time, s, as the link gives them.
func (b board) send(seconds float64, start int64, counts func(at float64) []uint16) (frames []device.Frame) {
	const batch, stallEvery = 0.016, 7.0
	r := rand.New(rand.NewPCG(uint64(b.foot), 5))
	period := 1 / (rate * (1 + 1e-6*b.ppm))
	var last, ahead int64 // arrival, ns; TimeUS less the strip's clock, µs
	began, n := 0.003*r.Float64(), 0
	for at := began; at < seconds; at, n = began+float64(n)*period, n+1 {
		reset := b.resets > 0 && at > b.resets
		if reset {
			began, n, b.resets = at+0.4, 0, 0
			at = began
		}
		came := at + 940/float64(b.baud) + 1e-4*r.ExpFloat64()
		came = math.Ceil((came-b.phase)/batch)*batch + b.phase
		if in := math.Mod(came, stallEvery); in < 0.2 {
			came += 0.2 - in
		}
		f := device.Frame{Foot: b.foot, Seq: int64(len(frames)), ArrivalNS: max(last, start+int64(1e9*came)), Restarted: reset, Counts: counts(at)}
		strip := int64(n) * 1e6 / rate
		if reset {
			ahead = int64(frames[len(frames)-1].TimeUS) + (f.ArrivalNS-last)/1000 - strip
		}
		f.TimeUS = uint64(strip + ahead)
		frames = append(frames, f)
		last = f.ArrivalNS
	}
	return frames
}

// Both feet rise simultaneously on the recording's time although their strips have clocks
// that differ by 1 % and lines of different speed, the host receives data every 16 ms and
// sometimes after 200 ms, and one strip restarts.
func TestFeetRiseAtOnceOnTwoClocks(t *testing.T) {
	boards := [2]board{
		{foot: device.Left, ppm: 5000, baud: 115200, phase: 0.002},
		{foot: device.Right, ppm: -5000, baud: 921600, phase: 0.011, resets: 63.05},
	}
	m := device.Metadata{Dancer: "D7", Started: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), Software: "test"}
	const period, seconds = 4.3, 107.5
	var frames []device.Frame
	for _, b := range boards {
		m.Sides[b.foot] = &device.Side{
			Strip: strip(b.foot), Shoe: rectangle("A", 40, 25), Clock: "strip", Format: "binary", Baud: b.baud,
		}
		full := 400e3 / (40 * 25) / strip(b.foot).Calibration.KPaPerCount
		frames = append(frames, b.send(seconds, m.Started.UnixNano(), func(at float64) []uint16 {
			in := math.Mod(at, period)
			level := max(0, min(1, (in-1)/0.3, (3.3-in)/0.3))
			return slices.Repeat([]uint16{uint16(math.Round(level * full))}, 40)
		})...)
	}
	slices.SortStableFunc(frames, func(a, b device.Frame) int { return cmp.Compare(a.ArrivalNS, b.ArrivalNS) })
	path := filepath.Join(t.TempDir(), "two.mcap")
	write(t, path, m, frames)
	r, err := analyze.File(context.Background(), path, analyze.Options{})
	require.NoError(t, err)
	require.Len(t, r.Releves, 2*25)
	worst := 0.0
	for i := 0; i < len(r.Releves); i += 2 {
		left, right := r.Releves[i], r.Releves[i+1]
		require.Equal(t, left.N, right.N, "a pair")
		worst = max(worst, math.Abs(left.StartS-right.StartS))
		assert.InDelta(t, left.StartS, right.StartS, 0.005, "relevé %d", left.N)
		// Times are relative to the recording's first frame.
		assert.InDelta(t, float64(left.N-1)*period+1.03, left.StartS, 0.006, "relevé %d", left.N)
	}
	t.Logf("at most %.2f ms apart", 1e3*worst)
}
