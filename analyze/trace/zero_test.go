package trace_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
)

// offset returns the reading of cell k unloaded, counts; it differs from cell to cell.
func offset(k int) float64 { return float64(3 * k) }

func TestEveryCellHasItsOwnZero(t *testing.T) {
	log := develop(t, shoot(200, 4, func(at float64, k int) float64 { return offset(k) + pulse(at, 1, 3, 0.2)*tilted(400, 0, -2, k) }))
	assert.True(t, log.Unloaded)
	assert.False(t, log.StartsLoaded)
	for k, level := range log.ZeroAt(2) {
		assert.InDelta(t, offset(k), level, 1e-9)
	}
	for i, s := range log.Samples {
		assert.InDelta(t, 400*pulse(float64(i)/200, 1, 3, 0.2), s.LoadN, cells*countN/2)
		if s.LoadN > 100 {
			assert.InDelta(t, -2, s.OverMM, 0.02)
		}
	}
}

// Drift over minutes, up or down and at a different speed in each cell, does not become
// load: between relevés the load is zero, and the load of each hold is off only by the
// drift since it began.
func TestDriftIsNotLoad(t *testing.T) {
	const rate, seconds, period, first = 50.0, 240.0, 6.0, 1.3
	held := func(at float64) float64 {
		if at < first {
			return 0
		}
		return pulse(math.Mod(at-first, period), 0, 4, 0.3)
	}
	for _, perMinute := range []float64{-12, -3, 0.5, 12, 30} { // N
		log := develop(t, shoot(rate, seconds, func(at float64, k int) float64 {
			drift := even(perMinute*at/60) * (0.5 + float64(k)/(cells-1))
			return 800 + drift + held(at)*even(400)
		}))
		// Under load the zero is constant: for 4 s, plus up to four windows until it is
		// tracked again.
		most := math.Abs(perMinute)*5/60 + 0.1
		worst := 0.0
		for i, s := range log.Samples {
			worst = max(worst, math.Abs(float64(s.LoadN)-400*held(float64(i)/rate)))
		}
		assert.Less(t, worst, most, "N off at most at %v N/min", perMinute)
		// The maps use the same zero as the samples.
		worst = 0
		for from := first; from+4 < seconds; from += period {
			m := log.Map(from+0.5, from+3.5, log.ZeroAt(from+0.02))
			sum := 0.0
			for _, p := range m.KPa {
				sum += p * pitch * pitch / 1000
			}
			worst = max(worst, math.Abs(sum-400))
		}
		assert.Less(t, worst, most, "N off in a map at %v N/min", perMinute)
	}
}

// The zero stays exactly constant during rise and lowering at any speed, beginning
// anywhere in a window. (Below 50 N/s the first newtons cannot be distinguished from
// drift; nobody rises so slowly.)
func TestRiseNeverMovesTheZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rise := 400 / rapid.Float64Range(60, 4000).Draw(t, "N/s")
		from := rapid.Float64Range(0.25, 0.6).Draw(t, "from")
		to := from + 2*rise + rapid.Float64Range(0, 2).Draw(t, "hold")
		log := develop(t, shoot(200, to+1, func(at float64, k int) float64 {
			return offset(k) + even(400)*pulse(at, from, to, rise)
		}))
		for _, z := range append(log.Zeros, log.Zeros[len(log.Zeros)-1]) {
			for k := range z.Level {
				if math.Abs(z.Level[k]-offset(k)) > 1e-9 {
					t.Fatalf("zero of cell %d at %.2f s: %v, was %v", k, z.T, z.Level[k], offset(k))
				}
			}
		}
		last := log.Samples[len(log.Samples)-1]
		if math.Abs(float64(last.LoadN)) > 1e-3 {
			t.Fatalf("%v N left at the end", last.LoadN)
		}
	})
}

// The zero in force during a load is that of the unloaded time before it, also where the
// load begins between two frames.
func TestZeroOfASuddenLoad(t *testing.T) {
	for shift := range 25 {
		from := 3 + float64(shift)/200
		log := develop(t, shoot(200, 6, func(at float64, k int) float64 {
			if at >= from-1e-9 {
				return 1500
			}
			return 100 + math.Round(20*min(1, at/2)) // has drifted by 20 counts before
		}))
		for _, level := range log.ZeroAt(from - 0.004) { // a step is found between its frames
			require.InDelta(t, 120, level, 0.5, "load from %.3f s", from)
		}
	}
}

func TestBeginsUnderLoad(t *testing.T) {
	scene := func(at float64, k int) float64 {
		load := pulse(at, -1, 2, 0.2) + pulse(at, 3, 5, 0.2)
		return offset(k) + load*tilted(400, 2, 1.5, k)
	}
	frames := shoot(200, 6, scene)
	log := develop(t, frames)
	assert.True(t, log.StartsLoaded)
	assert.True(t, log.Unloaded)
	for i, s := range log.Samples {
		want := 400 * (pulse(float64(i)/200, -1, 2, 0.2) + pulse(float64(i)/200, 3, 5, 0.2))
		assert.InDelta(t, want, s.LoadN, 0.2, "restated at %.2f s", s.T)
		if want > 100 {
			assert.InDelta(t, 2, s.MedialMM, 0.03)
			assert.InDelta(t, 1.5, s.OverMM, 0.03)
		}
	}
	for k, level := range log.ZeroAt(0) {
		assert.InDelta(t, offset(k), level, 1)
	}

	// Without the end of the load there is no unloaded time to take a zero from.
	log = develop(t, frames[:300])
	assert.True(t, log.StartsLoaded)
	assert.False(t, log.Unloaded)
	for _, level := range log.ZeroAt(1) {
		assert.Zero(t, level)
	}
}

// A foot that rests lightly on the strip when the recording begins is taken for offsets
// until it is lifted.
func TestBeginsWithALightRest(t *testing.T) {
	const rest = 60.0
	scene := func(at float64, _ int) float64 {
		return even(rest*pulse(at, -1, 6, 0.1)) + even(340)*pulse(at, 2, 4, 0.2)
	}
	frames := shoot(200, 8, scene)

	before := develop(t, frames[:1000])
	assert.False(t, before.StartsLoaded, "nothing says so yet")
	assert.InDelta(t, 0, before.Samples[100].LoadN, 0.1)

	log := develop(t, frames)
	assert.True(t, log.StartsLoaded)
	assert.True(t, log.Unloaded)
	for i, s := range log.Samples {
		at := float64(i) / 200
		assert.InDelta(t, rest*pulse(at, -1, 6, 0.1)+340*pulse(at, 2, 4, 0.2), s.LoadN, 0.3, "at %.2f s", at)
	}
	// The samples of that time have no centre of pressure, also after the correction.
	assert.True(t, math.IsNaN(float64(log.Samples[100].OverMM)))
	assert.InDelta(t, 0, log.Samples[600].OverMM, 0.01)
	m := log.Map(2.3, 3.7, log.ZeroAt(2))
	assert.InDelta(t, even(rest+340), m.KPa[0]/kPaPerCount, 3)
}

func TestNeverUnloaded(t *testing.T) {
	log := develop(t, shoot(200, 10, func(at float64, _ int) float64 { return even(300 + 100*math.Sin(3*at)) }))
	assert.True(t, log.StartsLoaded)
	assert.False(t, log.Unloaded)
	for i, s := range log.Samples {
		assert.InDelta(t, 300+100*math.Sin(3*float64(i)/200), s.LoadN, cells*countN/2)
	}
	for _, sd := range log.Noise {
		assert.Equal(t, 1/math.Sqrt(12), sd, "nothing known but rounding")
	}
}

// The noise of each cell agrees with the normal distribution from which it is drawn, plus
// rounding (variance 1/12 of a step squared: Sheppard's correction, which holds from half
// a step of noise up).
func TestNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	sd := func(k int) float64 { return 0.1 * float64(k) }
	log := develop(t, shoot(200, 60, func(at float64, k int) float64 {
		return 100 + sd(k)*r.NormFloat64() + even(500)*pulse(math.Mod(at, 6), 2, 4, 0.3)
	}))
	// Of 40 s unloaded, less the windows beside loads, some 7000 frames remain, so that a
	// standard deviation has a relative standard error of 1/√14000; the tolerance is five
	// times that.
	for k, got := range log.Noise {
		if sd(k) < 0.2 {
			assert.Equal(t, 1/math.Sqrt(12), got, "cell %d never left its step: that is all that is known", k)
		} else if sd(k) >= 0.5 {
			assert.InEpsilon(t, math.Sqrt(sd(k)*sd(k)+1.0/12), got, 0.045, "cell %d", k)
		}
	}
}

// Each foot has its own zero.
func TestFeetDoNotShareAZero(t *testing.T) {
	left := shoot(100, 3, func(float64, int) float64 { return 50 })
	right := shoot(100, 3, func(float64, int) float64 { return 200 })
	logs := both(t, left, right)
	for _, f := range device.Feet {
		for _, s := range logs[f].Samples {
			assert.InDelta(t, 0, s.LoadN, 1e-4)
		}
	}
	assert.InDelta(t, 50, logs[device.Left].ZeroAt(1)[0], 1e-9)
	assert.InDelta(t, 200, logs[device.Right].ZeroAt(1)[0], 1e-9)
}
