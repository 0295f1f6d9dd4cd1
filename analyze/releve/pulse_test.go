package releve

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
)

// at samples a load, N as a function of s, at a rate for the given seconds.
func at(rate, seconds float64, load func(t float64) float64) []measure.Sample {
	s := make([]measure.Sample, int(rate*seconds)+1)
	for i := range s {
		t := float64(i) / rate
		s[i] = measure.Sample{T: t, LoadN: float32(load(t))}
	}
	return s
}

// trapezoid rises linearly from a to b, stays at level, and falls linearly from c to d.
func trapezoid(level, a, b, c, d float64) func(float64) float64 {
	return func(t float64) float64 {
		return level * max(0, min(1, (t-a)/(b-a), (d-t)/(d-c)))
	}
}

func without(s []measure.Sample, from, to float64) (kept []measure.Sample) {
	for i, x := range s {
		if x.T >= from && x.T < to {
			continue
		}
		if i > 0 && s[i-1].T >= from && s[i-1].T < to {
			x.Flags |= measure.AfterGap
		}
		kept = append(kept, x)
	}
	return kept
}

// For linear flanks the crossings follow by proportion.
func TestFindOnATrapezoid(t *testing.T) {
	for _, rate := range []float64{50, 200, 1000} {
		found := Find(at(rate, 7, trapezoid(500, 1.003, 2.003, 4.003, 6.003)))
		require.Len(t, found, 1)
		p := found[0]
		assert.InDelta(t, 500, p.MedianN, 0.5)
		assert.InDelta(t, 1.103, p.OnsetS, 1e-4, "10 % of the rise of 1 s")
		assert.InDelta(t, 5.863, p.EndS, 1e-4, "7 % of the lower of 2 s")
		assert.InDelta(t, 1.853, p.HoldStartS, 1e-4)
		assert.InDelta(t, 4.303, p.HoldEndS, 1e-4)
		assert.False(t, p.Aborted)
		assert.False(t, p.TouchesGap)
		assert.Equal(t, int(math.Ceil(p.OnsetS*rate)), p.First)
		assert.Equal(t, int(p.EndS*rate), p.Last)
		assert.Equal(t, int(math.Ceil(p.HoldStartS*rate)), p.HoldFirst)
		assert.Equal(t, int(p.HoldEndS*rate), p.HoldLast)
	}
}

func TestFloorOnALightFoot(t *testing.T) {
	found := Find(at(200, 7, trapezoid(100, 1, 2, 4, 6)))
	require.Len(t, found, 1)
	assert.InDelta(t, 1.25, found[0].OnsetS, 1e-4, "25 N, not 10")
	assert.InDelta(t, 5.50, found[0].EndS, 1e-4, "25 N, not 7")
	assert.Empty(t, Find(at(200, 7, trapezoid(24, 1, 2, 4, 6))))
}

// A rise and descent far longer than the hold lower the plain median well below the load
// of the hold; the hold must still be found.
func TestSlowRiseToAShortHold(t *testing.T) {
	found := Find(at(200, 8, trapezoid(400, 1, 4, 4.7, 7)))
	require.Len(t, found, 1)
	assert.False(t, found[0].Aborted)
	assert.Greater(t, found[0].MedianN, 370.0)
	assert.Less(t, found[0].HoldStartS, 4.0)
	assert.Greater(t, found[0].HoldEndS, 4.7)
}

func TestAborted(t *testing.T) {
	for hold, aborted := range map[float64]bool{0: true, 0.3: true, 0.45: true, 0.55: false, 1: false} {
		// The load is in the band for the hold and for 15 % of 0.1 s on either side of it.
		found := Find(at(500, 4, trapezoid(600, 1, 1.1, 1.1+hold-0.03, 1.2+hold-0.03)))
		require.Len(t, found, 1, "hold %v", hold)
		p := found[0]
		assert.Equal(t, aborted, p.Aborted, "hold %v", hold)
		if aborted {
			assert.Equal(t, [2]int{-1, -1}, [2]int{p.HoldFirst, p.HoldLast})
			assert.Zero(t, p.HoldStartS+p.HoldEndS)
		}
	}
}

func TestDips(t *testing.T) {
	for length, pulses := range map[float64]int{0.10: 1, 0.13: 1, 0.17: 2, 0.4: 2} {
		load := trapezoid(500, 1, 1.2, 6, 6.2)
		found := Find(at(1000, 8, func(t float64) float64 {
			if t >= 3 && t < 3+length {
				return 0
			}
			return load(t)
		}))
		require.Len(t, found, pulses, "a dip of %v s to nothing", length)
		if pulses == 1 {
			assert.InDelta(t, 1.17, found[0].HoldStartS, 0.01)
			assert.InDelta(t, 6.03, found[0].HoldEndS, 0.01, "a short dip does not end the hold either")
		}
	}

	// Half of the load for a third of a second ends the hold but not the pulse; the longer part is the hold.
	load := trapezoid(500, 1, 1.2, 6, 6.2)
	found := Find(at(200, 8, func(t float64) float64 {
		if t >= 2.5 && t < 2.8 {
			return 250
		}
		return load(t)
	}))
	require.Len(t, found, 1)
	assert.InDelta(t, 2.8, found[0].HoldStartS, 0.02)
	assert.InDelta(t, 6.03, found[0].HoldEndS, 0.02)
}

// A hard landing overshoots; the hold begins after the overshoot.
func TestBounceIsNotTheHold(t *testing.T) {
	load := trapezoid(500, 1, 1.1, 4, 4.2)
	found := Find(at(500, 6, func(t float64) float64 {
		v := load(t)
		if t > 1.1 && t < 4 {
			v *= 1 + 0.8*math.Exp(-(t-1.1)/0.12)*math.Sin(2*math.Pi*5*(t-1.1))
		}
		return v
	}))
	require.Len(t, found, 1)
	assert.Greater(t, found[0].HoldStartS, 1.2)
	assert.Less(t, found[0].HoldStartS, 1.4)
}

// After an overshoot the hold begins when the load falls through 115 %.
func TestSettlingFromAbove(t *testing.T) {
	load := trapezoid(500, 1, 1.1, 5, 5.2)
	found := Find(at(50, 6, func(t float64) float64 { return load(t) * (1 + max(0, min(0.5, 1.703-t))) }))
	require.Len(t, found, 1)
	assert.InDelta(t, 1.703-0.15, found[0].HoldStartS, 1e-3)
}

// A hard landing does not raise the thresholds, which depend on the median, so a low
// load after it does not end the pulse.
func TestHardLanding(t *testing.T) {
	found := Find(at(200, 6, func(t float64) float64 {
		switch {
		case t < 1 || t > 5:
			return 0
		case t < 1.1:
			return 1000
		case t >= 2.5 && t < 2.9:
			return 55 // 11 % of the median, 5.5 % of the landing
		}
		return 500
	}))
	require.Len(t, found, 1)
	assert.InDelta(t, 2.9, found[0].HoldStartS, 0.02)
}

func TestAKnockIsNotAPulse(t *testing.T) {
	assert.Empty(t, Find(at(500, 3, func(t float64) float64 {
		if t > 1 && t < 1.1 {
			return 300
		}
		return 0
	})))
}

// The tip of the shoe resting on the floor before the rise is not part of the pulse,
// although it lasts longer and its load is above the floor of detection.
func TestResting(t *testing.T) {
	load := trapezoid(600, 6, 6.3, 8, 8.3)
	found := Find(at(200, 10, func(t float64) float64 {
		if t > 1 && t < 9 {
			return max(35, load(t))
		}
		return 0
	}))
	require.Len(t, found, 1)
	assert.InDelta(t, 600, found[0].MedianN, 6)
	assert.InDelta(t, 6.03, found[0].OnsetS, 0.005)
	assert.InDelta(t, 8.279, found[0].EndS, 0.005)
}

// Several pulses that do not return below the floor have their own thresholds.
func TestHeavyBetweenLight(t *testing.T) {
	first, heavy, last := trapezoid(300, 1, 1.5, 3, 3.5), trapezoid(900, 4, 4.5, 6, 6.5), trapezoid(300, 7, 7.5, 9, 9.5)
	found := Find(at(500, 10, func(t float64) float64 { return max(26, first(t), heavy(t), last(t)) }))
	require.Len(t, found, 3)
	for i, level := range []float64{300, 900, 300} {
		assert.InDelta(t, level, found[i].MedianN, level/100)
		assert.False(t, found[i].Aborted)
	}
	assert.InDelta(t, 4.05, found[1].OnsetS, 0.001)
	assert.InDelta(t, 7.05, found[2].OnsetS, 0.001, "10 % of its own median, not of its neighbour's")
	assert.Less(t, found[0].EndS, 4.0, "not into its neighbour")
	assert.InDelta(t, 9, found[2].HoldEndS, 0.1)
}

func TestGaps(t *testing.T) {
	whole := at(200, 9, trapezoid(500, 1, 1.2, 6, 6.2))

	short := Find(without(whole, 3, 3.1))
	require.Len(t, short, 1)
	assert.True(t, short[0].TouchesGap)
	assert.InDelta(t, 4.9, short[0].HoldEndS-short[0].HoldStartS, 0.1, "a hold goes on over a tenth of a second")

	longer := Find(without(whole, 3, 3.4))
	require.Len(t, longer, 1)
	assert.True(t, longer[0].TouchesGap)
	assert.InDelta(t, 3.4, longer[0].HoldStartS, 0.01, "but not over 0.4 s")

	long := Find(without(whole, 3, 4))
	require.Len(t, long, 2, "there is no telling what happened in a second")
	assert.True(t, long[0].TouchesGap && long[1].TouchesGap)
	assert.InDelta(t, 3, long[0].EndS, 0.01)
	assert.InDelta(t, 4, long[1].OnsetS, 0.01)

	// The onset is not interpolated across frames missing in the rise.
	rise := Find(without(whole, 0.9, 1.1))
	require.Len(t, rise, 1)
	assert.True(t, rise[0].TouchesGap)
	assert.InDelta(t, 1.1, rise[0].OnsetS, 0.006)

	assert.False(t, Find(without(whole, 7, 8))[0].TouchesGap, "a gap after the pulse")

	// A long interval between samples is a gap, marked or not.
	unmarked := without(whole, 3, 3.3)
	for i := range unmarked {
		unmarked[i].Flags = 0
	}
	found := Find(unmarked)
	require.Len(t, found, 1)
	assert.True(t, found[0].TouchesGap)

	begins, ends := Find(whole[400:]), Find(whole[:800])
	require.Len(t, begins, 1)
	require.Len(t, ends, 1)
	assert.True(t, begins[0].TouchesGap && ends[0].TouchesGap, "the recording begins or ends in it")
	assert.Equal(t, 2.0, begins[0].OnsetS)
	assert.Equal(t, whole[799].T, ends[0].EndS)
}

func TestNothingToFind(t *testing.T) {
	assert.Empty(t, Find(nil))
	assert.Empty(t, Find(make([]measure.Sample, 1)))
	assert.Empty(t, Find(make([]measure.Sample, 100)))
}

// For any samples the pulses are in order and consistent.
func TestFindOnAnything(t *testing.T) {
	strange := []float32{float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), math.MaxFloat32, -1e30}
	rapid.Check(t, func(t *rapid.T) {
		var samples []measure.Sample
		now := 0.0
		for range rapid.IntRange(0, 40).Draw(t, "blocks") {
			level := rapid.Float32Range(0, 800).Draw(t, "level")
			if rapid.IntRange(0, 20).Draw(t, "strange") == 0 {
				level = rapid.SampledFrom(strange).Draw(t, "load")
			}
			step := rapid.SampledFrom([]float64{0, 0.001, 0.005, 0.02, 0.3}).Draw(t, "step")
			for i := range rapid.IntRange(1, 200).Draw(t, "n") {
				now += step
				s := measure.Sample{T: now, LoadN: level + float32(i%7)}
				if rapid.IntRange(0, 400).Draw(t, "gap") == 0 {
					s.Flags = measure.AfterGap
				}
				samples = append(samples, s)
			}
		}
		last, end := -1, math.Inf(-1)
		for _, p := range Find(samples) {
			require.Greater(t, p.First, last)
			require.LessOrEqual(t, p.First, p.Last)
			require.Less(t, p.Last, len(samples))
			require.GreaterOrEqual(t, p.OnsetS, end)
			require.GreaterOrEqual(t, p.EndS, p.OnsetS)
			require.GreaterOrEqual(t, p.MedianN, 25.0)
			require.LessOrEqual(t, p.OnsetS, samples[p.First].T)
			require.GreaterOrEqual(t, p.EndS, samples[p.Last].T)
			if !p.Aborted {
				require.LessOrEqual(t, p.First, p.HoldFirst)
				require.LessOrEqual(t, p.HoldFirst, p.HoldLast)
				require.LessOrEqual(t, p.HoldLast, p.Last)
				require.GreaterOrEqual(t, p.HoldEndS-p.HoldStartS, HoldAtLeastS)
				require.GreaterOrEqual(t, p.HoldStartS, p.OnsetS)
				require.LessOrEqual(t, p.HoldEndS, p.EndS)
			}
			last, end = p.Last, p.EndS
		}
	})
}

// Scaling a load above the floor and shifting its time change nothing else.
func TestFindScalesAndShifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		a := draw("start", 0.2, 1)
		b := a + draw("rise", 0.1, 1)
		c := b + draw("hold", 0, 2)
		load := trapezoid(600, a, b, c, c+draw("lower", 0.1, 1))
		scale := rapid.SampledFrom([]float32{2, 4, 8}).Draw(t, "scale") // powers of two scale without rounding, which could change a median by a sample
		samples := at(200, 6, load)
		want := Find(samples)
		for i := range samples {
			samples[i].LoadN *= scale
			samples[i].T += 128
		}
		got := Find(samples)
		require.Len(t, want, 1)
		require.Len(t, got, 1)
		assert.InDelta(t, want[0].OnsetS+128, got[0].OnsetS, 1e-4)
		assert.InDelta(t, want[0].EndS+128, got[0].EndS, 1e-4)
		assert.InEpsilon(t, want[0].MedianN*float64(scale), got[0].MedianN, 1e-5)
		assert.Equal(t, want[0].HoldEndS-want[0].HoldStartS > 0.5+1e-4, got[0].HoldEndS-got[0].HoldStartS > 0.5+1e-4)
	})
}

func TestMedian(t *testing.T) {
	assert.Zero(t, lowerMedian(nil))
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float32Range(-10, 10), 1, 60).Draw(t, "x")
		sorted := slices.Sorted(slices.Values(x))
		assert.Equal(t, sorted[(len(x)-1)/2], lowerMedian(x))
	})
}

func BenchmarkFind(b *testing.B) {
	load := trapezoid(500, 1, 1.4, 4, 4.4)
	for _, c := range []struct {
		name string
		n    float64
	}{{"1e6", 1e6}, {"1e7", 1e7}} {
		b.Run(c.name, func(b *testing.B) {
			samples := at(200, c.n/200, func(t float64) float64 { return load(math.Mod(t, 6)) })
			b.ReportAllocs()
			for b.Loop() {
				Find(samples)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/c.n, "ns/sample")
		})
	}
}
