package trace_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/trace"
	"aplomb/device"
)

// settled traces frames as the analysis does, a second time where the log asks for that.
func settled(t require.TestingT, frames []device.Frame) (log *trace.Log, runs int) {
	return read(t, onStrip(), frames)
}

// base is the reading of every cell of a calibrated strip before it drifts, counts.
const base = 6000

// calibrated returns a strip whose profile states that zero.
func calibrated() *trace.Strip {
	s := onStrip()
	s.Zero = slices.Repeat([]float64{base}, cells)
	return s
}

// off returns the largest error of the load, N.
func off(log *trace.Log, load func(t float64) float64) (worst float64) {
	for _, s := range log.Samples {
		worst = max(worst, math.Abs(float64(s.LoadN)-load(s.T)))
	}
	return worst
}

// uneven returns the drift of the k-th cell relative to the mean over all cells.
func uneven(k int) float64 { return 0.5 + float64(k)/(cells-1) }

// The load is correct where the zero drifts linearly during each load, by up to 60 N, and
// stays constant in between.
func TestStraightDrift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.Float64Range(84, 900).Draw(t, "level")
		offset := rapid.Float64Range(0, 300).Draw(t, "offset")
		var moves, starts, ends, edges []float64
		at := 1.0
		for range rapid.IntRange(2, 3).Draw(t, "loads") {
			long := rapid.Float64Range(3, 6).Draw(t, "long")
			starts, ends = append(starts, at), append(ends, at+long)
			moves = append(moves, min(60, 15*long)*rapid.Float64Range(-1, 1).Draw(t, "move"))
			edges = append(edges, rapid.Float64Range(0.1, 0.5).Draw(t, "edge"))
			at += long + rapid.Float64Range(0.6, 2).Draw(t, "rest")
		}
		zero := func(at float64) float64 {
			n := offset
			for i, m := range moves {
				n += m * max(0, min(1, (at-starts[i])/(ends[i]-starts[i])))
			}
			return n
		}
		load := func(at float64) (n float64) {
			for i := range starts {
				n += level * (1 + 0.01*math.Sin(40*at)) * pulse(at, starts[i], ends[i], edges[i])
			}
			return n
		}
		log, _ := read(t, calibrated(), shoot(100, at+0.5, func(at float64, k int) float64 {
			return base + even(zero(at))*uneven(k) + even(load(at))
		}))
		if !log.Unloaded {
			t.Fatal("never unloaded")
		}
		// The interpolation starts in the middle of the last quiet window but one and
		// ends in that of the second quiet window afterwards, rather than at onset and
		// end.
		if worst := off(log, load); worst > 7 {
			t.Fatalf("%.1f N off", worst)
		}
		for i := range starts {
			m := log.Map(starts[i]+0.6, ends[i]-0.6, log.ZeroAt((starts[i]+ends[i])/2))
			sum := 0.0
			for _, p := range m.KPa {
				sum += p * pitch * pitch / 1000
			}
			if math.Abs(sum-level) > 4 {
				t.Fatalf("map %d of %.1f N where there were %.1f", i, sum, level)
			}
		}
	})
}

// An exponential drift is curved while the strip is loaded: with a change of d over a
// load it differs from a straight line by about d/8 at most.
func TestWarming(t *testing.T) {
	load := func(at float64) float64 {
		return 400 * (1 + 0.01*math.Sin(40*at)) * pulse(math.Mod(at, 6), 1.5, 5.5, 0.3)
	}
	for _, by := range []float64{-240, -100, 100, 240} {
		for _, tau := range []float64{25, 60, 200} {
			log, _ := settled(t, shoot(100, 36, func(at float64, k int) float64 {
				return 3000 + even(by*(1-math.Exp(-at/tau)))*uneven(k) + even(load(at))
			}))
			most := math.Abs(by) * (1 - math.Exp(-4/tau))
			assert.Less(t, off(log, load), most/8+2.5, "%v N in %v s: %.0f N over the first load", by, tau, most)
		}
	}
}

// Offsets of up to 300 N in all are treated as the zero from the beginning, without a
// warning that the recording begins under load.
func TestOffsets(t *testing.T) {
	load := func(at float64) float64 {
		return 300 * (1 + 0.01*math.Sin(40*at)) * pulse(math.Mod(at, 5), 1, 4, 0.3)
	}
	for _, n := range []float64{90, 110, 200, 300} {
		scene := func(at float64, k int) float64 { return even(n)*uneven(k) + even(load(at)) }
		log, runs := settled(t, shoot(200, 15, scene))
		assert.Less(t, off(log, load), 0.3, "%v N", n)
		assert.True(t, log.Unloaded)
		assert.False(t, log.StartsLoaded)
		if n > 100 {
			assert.Equal(t, 2, runs)
		} else {
			assert.Equal(t, 1, runs)
		}
		// The recording begins under load.
		log, _ = settled(t, shoot(200, 13, func(at float64, k int) float64 { return scene(at+2, k) }))
		assert.Less(t, off(log, func(at float64) float64 { return load(at + 2) }), 0.3, "%v N, later", n)
	}
}

// The same holds for a nonlinear curve.
func TestDriftThroughACurve(t *testing.T) {
	load := func(at float64) float64 {
		return 400 * (1 + 0.01*math.Sin(40*at)) * pulse(math.Mod(at, 6), 1.5, 5.5, 0.3)
	}
	strip, _ := squared()
	log, runs := read(t, strip, shoot(100, 30, func(at float64, k int) float64 {
		// 60 counts per load are 14 N under 400 N, and hardly any load when unloaded.
		return 1000 + 15*at*uneven(k) + bent(even(load(at)))
	}))
	assert.Equal(t, 2, runs)
	assert.True(t, log.Unloaded)
	assert.Less(t, off(log, load), 5.0)
}

// A motionless load is load, whether it is a dancer or a weight.
func TestNoLoadIsZero(t *testing.T) {
	type step struct{ n, until float64 } // N, s
	scenes := map[string][]step{
		"motionless at 150 N":          {{0, 1}, {150, 11}, {0, 13}},
		"motionless and light":         {{0, 1}, {84, 11}, {0, 13}},
		"just above the floor":         {{0, 1}, {30, 11}, {0, 13}},
		"after one foot, on two":       {{0, 1}, {300, 4}, {150, 14}, {0, 16}},
		"after one foot, lightly":      {{0, 1}, {420, 4}, {84, 14}, {420, 17}, {84, 20}, {0, 22}},
		"a light rest after a load":    {{0, 1}, {400, 4}, {60, 8}, {0, 9}, {400, 12}, {0, 13}},
		"the recording begins with it": {{150, 10}, {0, 12}},
		"ends with it":                 {{0, 2}, {150, 12}},
		"begins on one foot, then two": {{500, 3}, {200, 13}, {0, 15}},
		"never down":                   {{300, 5}},
		"weights up and down":          {{0, 3}, {50, 6}, {100, 9}, {150, 12}, {200, 15}, {150, 18}, {100, 21}, {50, 24}, {0, 27}},
		"weights taken off":            {{0, 3}, {200, 6}, {150, 9}, {100, 12}, {50, 15}, {0, 18}},
		"weights, never without":       {{100.5, 3}, {200, 6}, {300, 9}, {200, 12}, {100.5, 15}},
		"heavy weights, never without": {{300, 3}, {600, 6}, {900, 9}, {600, 12}, {300, 15}},
	}
	for name, steps := range scenes {
		load := func(at float64) float64 {
			from, since := steps[0].n, 0.0
			for _, s := range steps {
				if at < s.until {
					return from + (s.n-from)*min(1, (at-since)/0.3)
				}
				from, since = s.n, s.until
			}
			return steps[len(steps)-1].n
		}
		for _, noise := range []float64{0, 2} { // counts, equal with and without load
			r := rand.New(rand.NewPCG(1, 1))
			log, _ := settled(t, shoot(100, steps[len(steps)-1].until, func(at float64, k int) float64 {
				return even(load(at)) + noise*r.NormFloat64()
			}))
			assert.Less(t, off(log, load), 1.0, "%s, noise of %v counts", name, noise)
		}
	}
}

// A motionless load is load also where the zero drifts.
func TestMotionlessOnDrift(t *testing.T) {
	for _, n := range []float64{84, 150, 500} {
		for _, by := range []float64{-60, -30, 30, 60} {
			load := func(at float64) float64 { return n * (pulse(at, 1, 11, 0.3) + pulse(at, 13, 23, 0.3)) }
			zero := func(at float64) float64 {
				return by * (max(0, min(1, (at-1)/10)) + max(0, min(1, (at-13)/10)))
			}
			log, _ := settled(t, shoot(100, 25, func(at float64, k int) float64 {
				return 3000 + even(zero(at))*uneven(k) + even(load(at))
			}))
			assert.Less(t, off(log, load), 3.0, "%v N, drift of %v N a load", n, by)
		}
	}
}

// A drift of the zero, and possibly a load, are unknown while the cable is out.
func TestDriftWhileFramesAreMissing(t *testing.T) {
	load := func(at float64) float64 {
		return 400 * (1 + 0.01*math.Sin(40*at)) * (pulse(at, 1, 4, 0.3) + pulse(at, 12, 15, 0.3))
	}
	frames := shoot(100, 18, func(at float64, k int) float64 {
		return 1000 + even(50*pulse(at, 6, 99, 2))*uneven(k) + even(load(at))
	})
	log, _ := settled(t, append(frames[:550:550], frames[1000:]...))
	assert.Less(t, off(log, load), 3.0)
}

// While frames arrive, drift during a load is detected when the strip is unloaded again,
// and the new zero is then applied to the whole load; offsets beyond 100 N remain.
func TestDriftWhileItHappens(t *testing.T) {
	load := func(at float64) float64 { return 400 * pulse(math.Mod(at, 6), 1, 5, 0.3) }
	for _, by := range []float64{-60, -20, 20, 60} {
		zero := func(at float64) float64 {
			return by * (math.Floor(at/6) + max(0, min(1, (math.Mod(at, 6)-1)/4)))
		}
		tail := trace.NewTail(calibrated())
		for _, f := range shoot(100, 18, func(at float64, k int) float64 {
			return base + even(zero(at))*uneven(k) + even(load(at))
		}) {
			s, err := tail.Add(&f)
			require.NoError(t, err)
			if rested := math.Mod(s.T, 6); s.T > 6 && (rested < 0.9 || rested > 5.6) {
				require.InDelta(t, 0, s.LoadN, 1, "%v N a load, at %.2f s", by, s.T)
			}
		}
		for _, s := range tail.Samples() {
			if s.T > 12.9 {
				assert.InDelta(t, load(s.T), s.LoadN, math.Abs(by)+1, "%v N a load, at %.2f s", by, s.T)
			}
		}
	}
	// A small constant load after a larger one is taken for unloaded until it is lifted.
	tail := trace.NewTail(onStrip())
	at := func(s float64) float64 { return 400*pulse(s, 1, 4, 0.3) + 60*pulse(s, 3.7, 7, 0.3) }
	for _, f := range shoot(100, 8, func(s float64, _ int) float64 { return even(at(s)) }) {
		_, err := tail.Add(&f)
		require.NoError(t, err)
		if f.TimeUS == 6_500_000 {
			assert.InDelta(t, 0, tail.Samples()[len(tail.Samples())-1].LoadN, 1, "nothing says so yet")
		}
	}
	for _, s := range tail.Samples() {
		assert.InDelta(t, at(s.T), s.LoadN, 1, "at %.2f s", s.T)
	}
}

// A second reading is always enough, and every sample has a load.
func TestWhateverComes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var frames []device.Frame
		us := uint64(1e12)
		for range rapid.IntRange(1, 12).Draw(t, "stretches") {
			n := rapid.IntRange(1, 120).Draw(t, "frames")
			level := rapid.Float64Range(0, 9000).Draw(t, "level")
			slope := rapid.SampledFrom([]float64{0, 0, 1, -1, 30, -30}).Draw(t, "slope")
			noise := rapid.SampledFrom([]int{0, 1, 5, 100, 5000}).Draw(t, "noise")
			us += uint64(rapid.SampledFrom([]int64{10_000, 10_000, 0, 3_000_000, -500_000, -20_000_000}).Draw(t, "jump"))
			for i := range n {
				counts := make([]uint16, cells)
				for k := range counts {
					x := level + slope*float64(i) + float64((i*7919+k*104729)%(2*noise+1)-noise)
					counts[k] = uint16(max(0, min(65535, x)))
				}
				frames = append(frames, device.Frame{Seq: int64(len(frames)), TimeUS: us, ArrivalNS: epochNS + int64(len(frames))*10_000_000, Counts: counts})
				us += 10_000
			}
		}
		for _, strip := range []*trace.Strip{onStrip(), first(squared())} {
			log, _ := read(t, strip, frames)
			if len(log.Samples) != len(frames) {
				t.Fatalf("%d samples of %d frames", len(log.Samples), len(frames))
			}
			for _, s := range log.Samples {
				if math.IsNaN(float64(s.LoadN)) || math.IsInf(float64(s.LoadN), 0) {
					t.Fatalf("load of %v N at %v s", s.LoadN, s.T)
				}
			}
			for _, level := range log.ZeroAt(log.Samples[len(log.Samples)/2].T) {
				if math.IsNaN(level) {
					t.Fatal("a zero that is none")
				}
			}
		}
	})
}

func first(s *trace.Strip, _ *device.Strip) *trace.Strip { return s }
