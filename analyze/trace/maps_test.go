package trace_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The map of a whole load is the mean of its frames, each cell above its zero, and the
// peak the largest of its counts.
func TestMapIsTheMeanOfTheFrames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.Float64Range(30, 400).Draw(t, "Hz")
		from := rapid.Float64Range(0.5, 1).Draw(t, "from")
		to := from + rapid.Float64Range(0.5, 3).Draw(t, "held")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		frames := shoot(rate, to+0.5, func(at float64, k int) float64 {
			if at < from || at > to {
				return offset(k)
			}
			return offset(k) + 500 + 3000*r.Float64()
		})
		log := develop(t, frames)
		m := log.Map(from-0.001, to+0.001, log.ZeroAt(from))
		n := 0
		mean, peak := make([]float64, cells), make([]uint16, cells)
		for i, f := range frames {
			if at := float64(i) / rate; at < from || at > to {
				continue
			}
			n++
			for k, c := range f.Counts {
				mean[k] += float64(c)
				peak[k] = max(peak[k], c)
			}
		}
		require.Equal(t, n, m.Frames)
		require.Equal(t, peak, m.Peak)
		for k := range mean {
			if math.Abs(mean[k]/float64(n)-offset(k)-m.KPa[k]/kPaPerCount) > 1e-6 {
				t.Fatalf("cell %d: %v, want %v", k, m.KPa[k]/kPaPerCount, mean[k]/float64(n)-offset(k))
			}
		}
	})
}

// The map of part of a load is the mean over an interval within it that is shorter by
// less than a tenth of a second at either end. Counts that rise by one per frame identify
// the interval.
func TestMapOverAPart(t *testing.T) {
	const rate, first = 200.0, 200 // frames without load
	frames := shoot(rate, 6, func(at float64, _ int) float64 {
		if i := math.Round(at * rate); i >= first {
			return 1000 + i - first
		}
		return 0
	})
	log := develop(t, frames)
	zero := log.ZeroAt(1)
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(1, 5).Draw(t, "from")
		to := from + rapid.Float64Range(0.25, 6-from).Draw(t, "for")
		m := log.Map(from, to, zero)
		middle := (m.KPa[7]/kPaPerCount - 1000 + first) / rate
		half := float64(m.Frames-1) / 2 / rate
		if begin, end := middle-half, middle+half; begin < from-1e-6 || begin > from+0.1+1/rate+1e-6 || end > to+1e-6 || end < min(to, 5.995)-0.1-1/rate-1e-6 {
			t.Fatalf("%.3f to %.3f s for %.3f to %.3f", begin, end, from, to)
		}
	})
}

// Maps contain neither frames without load nor invented values for missing frames.
func TestMapsAreOfLoad(t *testing.T) {
	frames := shoot(100, 8, func(at float64, _ int) float64 {
		if at >= 1 && at < 2.04 {
			return 1000
		}
		if at >= 2.2 && at < 4 {
			return 3000
		}
		return 0
	})
	log := develop(t, without(frames, 300, 350))
	zero := log.ZeroAt(1)
	assert.Equal(t, 104, log.Map(0, 2.1, zero).Frames)
	assert.InDelta(t, 1000, log.Map(0, 2.1, zero).KPa[0]/kPaPerCount, 1e-9)
	assert.Equal(t, 180-50, log.Map(2.1, 8, zero).Frames)
	assert.InDelta(t, 3000, log.Map(2.1, 8, zero).KPa[0]/kPaPerCount, 1e-9)
	assert.Equal(t, 0, log.Map(4, 8, zero).Frames)
	assert.Equal(t, 0, log.Map(-5, 0, zero).Frames)
	assert.Equal(t, 0, log.Map(3, 2.5, zero).Frames, "backwards")
	assert.Equal(t, 0, log.Map(2.995, 3.495, zero).Frames, "where frames are missing")
}
