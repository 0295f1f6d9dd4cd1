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

func fit(frames []frame) *clock.Mapping {
	var f clock.Fit
	for _, p := range frames {
		if p.restart {
			f.Restart()
		}
		f.Add(p.us, p.arrival)
	}
	c := f.Mapping()
	return &c
}

// drawn generates a strip and its line.
func drawn(t *rapid.T) (s strip, seconds float64) {
	s = strip{
		ppm:    rapid.OneOf(rapid.Float64Range(-100, 100), rapid.Float64Range(-5000, 5000)).Draw(t, "ppm"),
		drift:  rapid.Float64Range(-2, 2).Draw(t, "drift"),
		walk:   rapid.Bool().Draw(t, "walk"),
		hz:     rapid.Float64Range(50, 500).Draw(t, "hz"),
		lost:   rapid.SampledFrom([]float64{0, 0.01, 0.3}).Draw(t, "lost"),
		noise:  rapid.SampledFrom([]float64{0, 1e-4, 1e-3}).Draw(t, "noise"),
		wire:   rapid.Float64Range(0, 0.01).Draw(t, "wire"),
		batch:  rapid.SampledFrom([]float64{0, 1e-3, 0.016}).Draw(t, "batch"),
		timer:  rapid.Bool().Draw(t, "timer"),
		stalls: rapid.SampledFrom([]float64{0, 1, 10}).Draw(t, "stalls"),
	}
	return s, rapid.Float64Range(0.1, 40).Draw(t, "seconds")
}

func arrived(t *rapid.T) []frame {
	s, seconds := drawn(t)
	frames := s.run(seconds, rapid.Uint64().Draw(t, "seed"))
	if len(frames) == 0 {
		t.Skip("nothing arrived")
	}
	return frames
}

// step is more than the rounding error of a float64 of some 1.7e18 ns, in ns.
const step = 512

// For a clock of constant rate and frames with equal delays the curve is that clock's
// line, also before the first corner and after the last.
func TestConstantRate(t *testing.T) {
	for _, ppm := range []float64{0, 1, -40, 100, -100, 5000, -5000} {
		for _, seconds := range []float64{1.2, 9, 11, 500} {
			frames := strip{ppm: ppm, hz: 50, wire: 2e-3}.run(seconds, 3)
			curve := fit(frames)
			for _, f := range frames {
				if late := curve.Host(f.us) - epoch - 1e9*f.at; math.Abs(late-2e6) > 5000 {
					t.Fatalf("%v ppm over %v s: %v ns late at %v s", ppm, seconds, late, f.at)
				}
			}
		}
	}
}

// No frame arrives before it is sent, so the curve lies above no arrival, except by what
// a clock can gain within a block, of which only the frame with the least delay is used.
func TestNeverAboveAnArrival(t *testing.T) {
	const within = 0.01 * 0.25 * 1e9 // ns
	rapid.Check(t, func(t *rapid.T) {
		frames := arrived(t)
		curve := fit(frames)
		var live clock.Live
		for _, f := range frames {
			live.Add(f.us, f.arrival)
			if above := live.Host(f.us) - float64(f.arrival); above > within {
				t.Fatalf("live, %.0f ns above the arrival at %v s", above, f.at)
			}
			if above := curve.Host(f.us) - float64(f.arrival); above > within {
				t.Fatalf("%.0f ns above the arrival at %v s", above, f.at)
			}
		}
	})
}

// Time advances at a rate that an oscillator can have.
func TestRateIsPossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frames := arrived(t)
		walk := fit(frames).Converter()
		for i := 1; i < len(frames); i++ {
			from, to := float64(frames[i-1].us-frames[0].us)/1e6, float64(frames[i].us-frames[0].us)/1e6
			if rate := (walk(to)-walk(from))/(to-from) - 1; math.Abs(rate) > 0.0101 {
				t.Fatalf("rate %v at %v s", rate, from)
			}
		}
	})
}

// The result does not depend on the settings of the clocks.
func TestSettingOfTheClocksHasNoEffect(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frames := arrived(t)
		later := rapid.Int64Range(-1e15, 1e15).Draw(t, "host set by, ns")
		ahead := rapid.Uint64Range(0, 1<<50).Draw(t, "strip set by, µs")
		var live, moved clock.Live
		other := make([]frame, len(frames))
		for i, f := range frames {
			other[i] = frame{us: f.us + ahead, arrival: f.arrival + later}
			live.Add(f.us, f.arrival)
			moved.Add(other[i].us, other[i].arrival)
			if d := moved.Host(other[i].us) - live.Host(f.us) - float64(later); math.Abs(d) > step {
				t.Fatalf("live, off by %v ns", d)
			}
		}
		curve, set := fit(frames), fit(other)
		for i, f := range frames {
			if d := set.Host(other[i].us) - curve.Host(f.us) - float64(later); math.Abs(d) > step {
				t.Fatalf("off by %v ns", d)
			}
		}
	})
}

// If one frame in five comes without delay, the delays of the others have no effect.
func TestDelaysOfOtherFramesHaveNoEffect(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := strip{ppm: rapid.Float64Range(-300, 300).Draw(t, "ppm"), hz: 200, noise: 2e-4}
		frames := s.run(rapid.Float64Range(2, 60).Draw(t, "seconds"), rapid.Uint64().Draw(t, "seed"))
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "lateness"), 0))
		late := func() *clock.Mapping {
			f := new(clock.Fit)
			for i, p := range frames {
				if i%5 != 0 && i != len(frames)-1 {
					p.arrival += 5e6 + int64(1e9*r.ExpFloat64())
				}
				f.Add(p.us, p.arrival)
			}
			c := f.Mapping()
			return &c
		}
		one, other := late(), late()
		for _, f := range frames {
			if a, b := one.Host(f.us), other.Host(f.us); a != b {
				t.Fatalf("%v ns apart at %v s", a-b, f.at)
			}
		}
	})
}

func TestTooLittleForARate(t *testing.T) {
	var live clock.Live
	host := func(us uint64) float64 { return live.Host(us) - epoch }
	assert.True(t, math.IsNaN(live.Host(5)))
	var none clock.Mapping
	assert.True(t, math.IsNaN(none.Host(5)))

	live.Add(1000, epoch+2_000_000)
	assert.InDelta(t, 3_000_000, host(2000), step)
	live.Add(901_000, epoch+900_000_000) // less delay
	assert.InDelta(t, 0, host(1000), step)
	live.Add(901_000, epoch+899_000_000) // the same time twice
	assert.InDelta(t, -1_000_000, host(1000), step)
	live.Add(801_000, epoch+903_000_000) // time goes back: it counts as the same time
	assert.InDelta(t, -1_000_000, host(1000), step)

	curve := fit([]frame{{us: 7, arrival: epoch}})
	assert.InDelta(t, epoch+1000, curve.Host(8), step)
}

// The frames of a backlog that is read at once look as if the strip's clock had jumped.
func TestBacklogIsNotARate(t *testing.T) {
	var frames []frame
	for us := uint64(0); us <= 1_200_000; us += 5000 {
		frames = append(frames, frame{us: us, arrival: epoch + int64(max(us, 900_000))*1000})
	}
	curve := fit(frames)
	for _, f := range frames {
		assert.InDelta(t, epoch+1000*float64(f.us), curve.Host(f.us), 13e6, "1 % of a second or so")
	}
	frames = frames[:0]
	for us := uint64(0); us <= 30_000_000; us += 5000 {
		frames = append(frames, frame{us: us, arrival: epoch + int64(max(us, 900_000))*1000})
	}
	curve = fit(frames)
	for _, f := range frames {
		assert.InDelta(t, epoch+1000*float64(f.us), curve.Host(f.us), 1e3)
	}
}

// After a restart a strip's clock may show any time. Its rate is still known, and the
// Mapping has it from before the restart.
func TestRestart(t *testing.T) {
	for _, ppm := range []float64{-4000, 60, 4000} {
		s := strip{ppm: ppm, hz: 200, noise: 1e-4, batch: 0.016, stalls: 3, resets: []float64{4, 30, 33}}
		frames := s.run(60, 8)
		curve := fit(frames)
		var live clock.Live
		var again float64
		for _, f := range frames {
			if f.restart {
				live.Restart()
				again = f.at
			}
			live.Add(f.us, f.arrival)
			assert.InDelta(t, epoch+1e9*f.at, curve.Host(f.us), 2e6, "%v ppm, at %v s", ppm, f.at)
			if f.at > 30 && f.at > again+0.5 { // a stall lasts 0.2 s
				assert.InDelta(t, epoch+1e9*f.at, live.Host(f.us), 2e6, "live, %v ppm, at %v s", ppm, f.at)
			}
		}
	}
}

// The host reads nothing for two seconds, and then gets all frames at once.
func TestPausedHost(t *testing.T) {
	for _, away := range [][2]float64{{0, 0.9}, {20, 22}} {
		frames := strip{ppm: 80, hz: 200, noise: 1e-4, batch: 0.016, away: away}.run(60, 4)
		curve := fit(frames)
		var live clock.Live
		for _, f := range frames {
			live.Add(f.us, f.arrival)
			assert.InDelta(t, epoch+1e9*f.at, curve.Host(f.us), 2e6, "at %v s", f.at)
			if f.at > 10 {
				assert.InDelta(t, epoch+1e9*f.at, live.Host(f.us), 2e6, "live, at %v s", f.at)
			}
		}
	}
}

// If the strip has no clock, its times are the arrivals, unchanged.
func TestArrivalAsClock(t *testing.T) {
	var frames []frame
	for _, f := range (strip{hz: 100, batch: 0.016, noise: 1e-3, stalls: 5}).run(30, 2) {
		if us := uint64(f.arrival / 1000); len(frames) == 0 || us > frames[len(frames)-1].us {
			frames = append(frames, frame{us: us, arrival: f.arrival})
		}
	}
	curve := fit(frames)
	for _, f := range frames {
		assert.InDelta(t, f.arrival, curve.Host(f.us), 2e3)
	}
}

// The line is dead for minutes while the strip's clock runs.
func TestLongGap(t *testing.T) {
	s := strip{ppm: -90, drift: 2, hz: 200, noise: 1e-4, batch: 0.016, stalls: 10, gaps: [][2]float64{{40, 400}}}
	frames := s.run(440, 8)
	curve := fit(frames)
	for _, f := range frames {
		assert.InDelta(t, epoch+1e9*f.at, curve.Host(f.us), 2e6, "at %v s", f.at)
	}
}

// A clock whose rate changes faster than maxBend makes a corner of every block.
func TestMemoryIsBounded(t *testing.T) {
	var live clock.Live
	var all clock.Fit
	at := func(i int) (uint64, int64) {
		s := float64(i) / 200
		return uint64(i) * 5000, epoch + int64(1e9*s+1000*s*s) // the rate grows by 2 ppm a second
	}
	const n = 100_000
	for i := range n {
		live.Add(at(i))
		all.Add(at(i))
	}
	assert.LessOrEqual(t, live.Corners(), 250)
	assert.InDelta(t, n/50, all.Corners(), 1, "four a second")
	i := n
	assert.Zero(t, testing.AllocsPerRun(1000, func() { live.Add(at(i)); i++ }))
	us, arrival := at(i - 1)
	require.InDelta(t, arrival, live.Host(us), 1e6, "and is followed nonetheless")

	all = clock.Fit{}
	for _, f := range (strip{ppm: 100, drift: 2, walk: true, hz: 200, noise: 1e-4, batch: 0.016, stalls: 15}).run(600, 1) {
		all.Add(f.us, f.arrival)
	}
	t.Logf("%d corners in ten minutes", all.Corners())
	assert.Less(t, all.Corners(), 100)
}

func BenchmarkFit(b *testing.B) {
	frames := strip{ppm: 100, hz: 200, batch: 0.016, noise: 1e-4, stalls: 12}.run(600, 1)
	b.ReportAllocs()
	var f clock.Fit
	i, us, ns := 0, uint64(0), int64(0)
	for b.Loop() {
		if i == len(frames) {
			us, ns = us+600e6, ns+600_060_000_000
			i = 0
		}
		f.Add(us+frames[i].us, ns+frames[i].arrival)
		i++
	}
}

func BenchmarkLive(b *testing.B) {
	frames := strip{ppm: 100, hz: 200, batch: 0.016, noise: 1e-4, stalls: 12}.run(600, 1)
	b.ReportAllocs()
	var l clock.Live
	i, us, ns, sum := 0, uint64(0), int64(0), 0.0
	for b.Loop() {
		if i == len(frames) {
			us, ns = us+600e6, ns+600_060_000_000
			i = 0
		}
		l.Add(us+frames[i].us, ns+frames[i].arrival)
		sum += l.Host(us + frames[i].us)
		i++
	}
	require.NotZero(b, sum)
}
