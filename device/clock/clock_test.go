package clock_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/clock"
)

const epoch = 1_700_000_000_000_000_000 // ns

// line is a strip that sends frames, and what becomes of them on the way.
type line struct {
	skew     float64 // as Fit.Skew has it
	rateHz   float64
	seconds  float64
	startUS  uint64
	minDelay float64 // ns, of every frame
	batchNS  float64 // what arrives waits for the next multiple of this
	stalls   int     // how often the host looks away for 200 ms
}

type pair struct {
	tUS       uint64
	arrivalNS int64
	sentNS    float64 // when it was measured, by the host's clock, after epoch
}

// run sends the frames. Nothing arrives before what was sent earlier.
func (l line) run(seed uint64) []pair {
	r := rand.New(rand.NewPCG(seed, 1))
	var stall []float64
	for range l.stalls {
		stall = append(stall, r.Float64()*l.seconds*1e9)
	}
	phase := r.Float64()
	var out []pair
	last := 0.0
	for i := range int(l.seconds * l.rateHz) {
		us := math.Round(float64(i) * 1e6 / l.rateHz)
		sent := us * 1000 * (1 + l.skew)
		at := sent + l.minDelay + r.ExpFloat64()*100_000 // 0.1 ms of jitter
		if l.batchNS > 0 {
			at = (math.Ceil(at/l.batchNS-phase) + phase) * l.batchNS
		}
		for _, s := range stall {
			if at >= s && at < s+200e6 {
				at = s + 200e6
			}
		}
		last = max(last, at)
		out = append(out, pair{l.startUS + uint64(us), epoch + int64(last), sent})
	}
	return out
}

// worst is the largest error of Host over the frames, ns, once the shortest
// delay is taken off.
func (l line) worst(f *clock.Fit, frames []pair) float64 {
	worst := 0.0
	for _, p := range frames {
		worst = max(worst, math.Abs(f.Host(p.tUS)-epoch-p.sentNS-l.minDelay))
	}
	return worst
}

func fit(frames []pair) *clock.Fit {
	f := new(clock.Fit)
	for _, p := range frames {
		f.Add(p.tUS, p.arrivalNS)
	}
	return f
}

// How well the clock is found on lines as they are. The limits are what the
// method can do: within a batch of 16 ms the last frame waits least, at 200 Hz
// up to 5 ms and seldom long.
func TestAccuracy(t *testing.T) {
	for name, c := range map[string]struct {
		line
		within  float64 // ns
		skewPPM float64 // within
	}{
		"steady":                   {line{rateHz: 200, seconds: 60, minDelay: 1e6}, 0.05e6, 2},
		"fast by 5000 ppm":         {line{skew: -5000e-6, rateHz: 200, seconds: 60, minDelay: 1e6}, 0.05e6, 2},
		"slow, batches":            {line{skew: 5000e-6, rateHz: 200, seconds: 60, minDelay: 1e6, batchNS: 16e6}, 0.5e6, 20},
		"batches, 20 stalls":       {line{skew: -120e-6, rateHz: 200, seconds: 60, batchNS: 16e6, stalls: 20}, 0.5e6, 20},
		"5 s, batches, stalls":     {line{skew: 300e-6, rateHz: 200, seconds: 5, batchNS: 16e6, stalls: 3}, 3e6, 1000},
		"20 min at 100 Hz, stalls": {line{skew: 40e-6, rateHz: 100, seconds: 1200, minDelay: 3e6, batchNS: 16e6, stalls: 150}, 0.5e6, 1},
		"its clock near the end":   {line{skew: 40e-6, rateHz: 200, seconds: 10, startUS: math.MaxUint64 / 2}, 0.05e6, 20},
	} {
		t.Run(name, func(t *testing.T) {
			frames := c.run(7)
			f := fit(frames)
			worst := c.worst(f, frames)
			t.Logf("worst error %.3f ms, skew off by %.1f ppm", worst/1e6, 1e6*math.Abs(f.Skew()-c.skew))
			assert.Less(t, worst, c.within)
			assert.InDelta(t, c.skew, f.Skew(), c.skewPPM*1e-6)
		})
	}
}

// The line is the optimum of the linear programme: of all lines through two of
// the points and below the others, the one with the smallest sum of delays.
// Here it is found by trying them all.
func TestIsTheOptimum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "n")
		var frames []pair
		x := uint64(rapid.IntRange(0, 1000).Draw(t, "x0"))
		for range n {
			x += uint64(rapid.IntRange(600_000, 3_000_000).Draw(t, "dx"))
			// Delays small enough for no two points to make a skew out of bounds.
			frames = append(frames, pair{tUS: x, arrivalNS: epoch + int64(x)*1000 + int64(rapid.IntRange(0, 2_000_000).Draw(t, "delay"))})
		}
		if frames[n-1].tUS-frames[0].tUS < 1_000_000 {
			t.Skip("too short for a skew")
		}
		y := func(i int) float64 { return float64(frames[i].arrivalNS - epoch) }
		at := func(i int) float64 { return float64(frames[i].tUS) }
		best, bestSum := [2]float64{}, math.Inf(1)
		for i := range n {
			for j := range i {
				b := (y(i) - y(j)) / (at(i) - at(j))
				a := y(i) - b*at(i)
				sum, below := 0.0, true
				for k := range n {
					d := y(k) - a - b*at(k)
					sum += d
					below = below && d > -1e-3
				}
				if below && sum < bestSum {
					best, bestSum = [2]float64{a, b}, sum
				}
			}
		}
		f := fit(frames)
		sum := 0.0
		for i := range n {
			d := y(i) - (f.Host(frames[i].tUS) - epoch)
			if d < -300 { // the steps of a float64 of this size
				t.Fatalf("the line is %.0f ns above point %d", -d, i)
			}
			sum += d
		}
		if math.Abs(sum-bestSum) > 300*float64(n) {
			t.Fatalf("sum of delays %v, the optimum has %v (%v)", sum, bestSum, best)
		}
	})
}

// Whatever the line does to the frames, the fit stays below every arrival and
// never later than the latest clock allows.
func TestNeverAboveAnArrival(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := line{
			skew:     rapid.Float64Range(-5000e-6, 5000e-6).Draw(t, "skew"),
			rateHz:   rapid.Float64Range(50, 500).Draw(t, "rate"),
			seconds:  rapid.Float64Range(0.1, 20).Draw(t, "seconds"),
			minDelay: rapid.Float64Range(0, 5e6).Draw(t, "delay"),
			batchNS:  rapid.SampledFrom([]float64{0, 1e6, 16e6}).Draw(t, "batch"),
			stalls:   rapid.IntRange(0, 5).Draw(t, "stalls"),
		}
		frames := l.run(rapid.Uint64().Draw(t, "seed"))
		f := fit(frames)
		if s := f.Skew(); math.Abs(s) > 0.01 {
			t.Fatalf("skew %v", s)
		}
		for _, p := range frames {
			if late := f.Host(p.tUS) - float64(p.arrivalNS); late > 512 {
				t.Fatalf("%.0f ns above the arrival of %d", late, p.tUS)
			}
		}
		if l.seconds > 10 && l.stalls == 0 {
			// One batch and one frame's distance bound what cannot be known.
			if worst, limit := l.worst(f, frames), l.batchNS+1e9/l.rateHz; worst > limit {
				t.Fatalf("off by %.3f ms, limit %.3f ms", worst/1e6, limit/1e6)
			}
		}
	})
}

func TestTooLittleForASkew(t *testing.T) {
	f := new(clock.Fit)
	assert.True(t, math.IsNaN(f.Host(5)))
	assert.Zero(t, f.Skew())

	f.Add(1000, epoch+2_000_000)
	assert.InDelta(t, epoch+3_000_000, f.Host(2000), 256)

	f.Add(901_000, epoch+900_000_000) // below 1 s: the lower delay counts, no skew
	assert.Zero(t, f.Skew())
	assert.InDelta(t, epoch, f.Host(1000), 256)

	f.Add(1_001_000, epoch+1_000_000_000)
	assert.NotZero(t, f.Skew())
}

// A backlog read at once arrives as if the strip's clock had leapt.
func TestBacklogIsNotASkew(t *testing.T) {
	f := new(clock.Fit)
	for us := uint64(0); us <= 1_200_000; us += 5000 {
		f.Add(us, epoch+int64(max(us, 900_000))*1000)
	}
	assert.InDelta(t, -0.01, f.Skew(), 1e-9, "held to what an oscillator can be off")
	for us := uint64(900_000); us <= 1_200_000; us += 5000 {
		assert.InDelta(t, epoch+float64(us)*1000, f.Host(us), 3.1e6)
	}
}

func TestSameMomentTwice(t *testing.T) {
	f := new(clock.Fit)
	f.Add(0, epoch+500)
	f.Add(0, epoch+100) // the earlier arrival counts, in whatever order
	f.Add(0, epoch+900)
	f.Add(2_000_000, epoch+2_000_000_100)
	f.Add(1_000_000, epoch+2_000_000_050) // a strip that goes back is taken as standing still
	require.False(t, math.IsNaN(f.Skew()))
	assert.InDelta(t, epoch, f.Host(0), 512)
}

// A clock that keeps changing puts every point on the hull.
func TestMemoryIsBounded(t *testing.T) {
	f := new(clock.Fit)
	// 1 ppm faster a second: y is a parabola.
	y := func(us float64) float64 { s := us / 1e6; return 500 * s * s } // ns
	const n = 200_000
	for i := range n {
		us := float64(i) * 5000
		f.Add(uint64(us), epoch+int64(us*1000+y(us)))
	}
	allocs := testing.AllocsPerRun(100, func() { f.Add(n*5000, epoch+n*5_000_000+int64(y(n*5000))) })
	assert.Zero(t, allocs)
	// The tangent at the mean time: slope 1000·s ns/s at 500 s.
	assert.InDelta(t, 500e-6, f.Skew(), 2e-6)
	assert.InDelta(t, epoch+500e9+y(500e6), f.Host(500_000_000), 1e4)
}

func BenchmarkAdd(b *testing.B) {
	frames := line{skew: 1e-4, rateHz: 200, seconds: 600, batchNS: 16e6, stalls: 50}.run(1)
	b.ReportAllocs()
	f := new(clock.Fit)
	i, us, ns := 0, uint64(0), int64(0)
	for b.Loop() {
		if i == len(frames) {
			us, ns = us+600e6, ns+600_060_000_000
			i = 0
		}
		f.Add(us+frames[i].tUS, ns+frames[i].arrivalNS)
		i++
	}
}
