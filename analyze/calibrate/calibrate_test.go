package calibrate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// upAndDown are the weights of an ordinary session, kg: on 1000 mm² up to 1.18 MPa.
var upAndDown = []float64{20, 40, 60, 80, 100, 120, 100, 80, 60, 40, 20}

func TestCalibrateFindsALine(t *testing.T) {
	b := newBench(1, 12).uneven(0.03)
	l := b.load(Kilogram, upAndDown...)
	l.Gains = b.gains
	r, err := Calibrate(l)
	require.NoError(t, err)
	assert.InEpsilon(t, 600, r.Curve.At(800), 2e-3) // 0.75 kPa a count
	assert.InDelta(t, 20*9.80665, r.RangeKPa[0], 1e-9)
	assert.InDelta(t, 120*9.80665, r.RangeKPa[1], 1e-9)
	assert.Less(t, r.Hysteresis, 0.002)
	assert.InDelta(t, 0, r.CreepPerDecade, 0.001)
	assert.Less(t, r.CellSD, 0.002)
	assert.Len(t, r.Steps, len(upAndDown))
	for _, s := range r.Steps {
		assert.InDelta(t, 0, s.Residual, 2)
	}
	assert.Empty(t, r.Warnings)

	l.Gains = nil // and without the correction for gains
	r, err = Calibrate(l)
	require.NoError(t, err)
	sd := 0.0
	for _, g := range b.gains {
		sd += (g - 1) * (g - 1) / float64(len(b.gains)-1)
	}
	assert.InEpsilon(t, math.Sqrt(sd), r.CellSD, 0.05)
}

// The right kind is chosen for clearly different curves, and the curve is accurate
// between the calibration's loads.
func TestCalibrateFindsTheForm(t *testing.T) {
	for _, c := range []struct {
		kind   CurveKind
		counts func(kPa float64) float64
		within float64 // share of the range
	}{
		{PowerCurve, func(p float64) float64 { return 3000 * math.Pow(p/1200, 0.7) }, 0.002},
		{PowerCurve, func(p float64) float64 { return 3000 * math.Pow(p/1200, 1.4) }, 0.002},
		{PointsCurve, func(p float64) float64 { return 3800 * p / (p + 600) * (1 - 0.05*math.Sin(p/200)) }, 0.03},
	} {
		b := newBench(2, 12)
		b.noise, b.counts = 0.3, c.counts
		r, err := Calibrate(b.load(Kilogram, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100, 120, 90, 60, 30))
		require.NoError(t, err)
		assert.Equal(t, c.kind, r.Curve.Kind)
		for p := r.RangeKPa[0]; p < r.RangeKPa[1]; p += 20 {
			assert.InDelta(t, p, r.Curve.At(c.counts(p)), c.within*r.RangeKPa[1], "at %v kPa", p)
		}
	}
}

// Beyond its loads a curve by points continues linearly through its last two, and it is
// odd about zero.
func TestCurveBeyondItsEnds(t *testing.T) {
	c := Curve{Kind: PointsCurve, Counts: []float64{0, 100, 300}, KPa: []float64{0, 50, 250}}
	assert.Equal(t, 350.0, c.At(400))
	assert.Equal(t, 250.0, c.At(300))
	assert.Equal(t, -50.0, c.At(-100))
	assert.Equal(t, -8.0, Curve{Kind: PowerCurve, KPaAtOneCount: 2, Exponent: 2}.At(-2))
	assert.True(t, math.IsNaN(Curve{}.At(1)))
}

// The simulated hysteresis is h at half the largest weight and 0 at both ends.
func TestCalibrateFindsHysteresis(t *testing.T) {
	b := newBench(3, 12)
	b.loop, b.noise = 0.06, 0.2
	r, err := Calibrate(b.load(Kilogram, upAndDown...))
	require.NoError(t, err)
	// The curve is fitted to the middle of the loop, which changes its slope by a few percent of h.
	assert.InDelta(t, 0.06, r.Hysteresis, 0.004)
	mid := r.AtMid
	assert.InEpsilon(t, r.Hysteresis/2/math.Sqrt(3)*r.RangeKPa[1]/mid.KPa, mid.Hysteresis, 1e-12)
	assert.InEpsilon(t, (r.RangeKPa[0]+r.RangeKPa[1])/2, mid.KPa, 1e-12)
	assert.InEpsilon(t, math.Sqrt(mid.Fit*mid.Fit+mid.Hysteresis*mid.Hysteresis+mid.Creep*mid.Creep), mid.All, 1e-12)

	b.loop = 0.2
	r, err = Calibrate(b.load(Kilogram, upAndDown...))
	require.NoError(t, err)
	require.NotEmpty(t, r.Warnings)
	assert.Contains(t, r.Warnings[0], "hysteresis is 2")
}

// The creep of the simulation is recovered for any length of the steps.
func TestCalibrateFindsCreep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(rapid.Uint64().Draw(t, "seed"), 12)
		b.creep, b.stepS = rapid.Float64Range(-0.03, 0.08).Draw(t, "creep"), rapid.Float64Range(11, 40).Draw(t, "step")
		b.rateHz = 10
		r, err := Calibrate(b.load(Kilogram, 30, 60, 90, 120, 60))
		require.NoError(t, err)
		assert.InDelta(t, b.creep, r.CreepPerDecade, 7*r.UCreep+2e-4)
		assert.Less(t, r.UCreep, 0.002)
	})
	b := newBench(7, 12)
	b.stepS = 5
	r, err := Calibrate(b.load(Kilogram, 30, 60, 90, 120, 60))
	require.NoError(t, err)
	assert.True(t, math.IsNaN(r.CreepPerDecade))
	assert.Equal(t, 0.0, r.AtMid.Creep)
	assert.Contains(t, r.Warnings[len(r.Warnings)-1], "creep is not known")
}

// The stated uncertainty of creep agrees with its actual error.
func TestCreepUncertainty(t *testing.T) {
	const runs = 60
	off, u := 0.0, 0.0
	for run := range runs {
		b := newBench(uint64(run), 6)
		b.creep, b.rateHz, b.noise = 0.03, 5, 5
		r, err := Calibrate(b.load(Kilogram, 30, 50, 70, 90, 110, 120, 70))
		require.NoError(t, err)
		off += (r.CreepPerDecade - 0.03) * (r.CreepPerDecade - 0.03) / runs
		u += r.UCreep * r.UCreep / runs
	}
	t.Logf("off by %.5f, said %.5f", math.Sqrt(off), math.Sqrt(u))
	assert.Greater(t, math.Sqrt(u/off), 0.7)
	assert.Less(t, math.Sqrt(u/off), 1.7)
}

// k times the weights on k times the area give the same curve; on the same area the
// curve gives k times the pressure.
func TestCalibrateScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(rapid.Uint64().Draw(t, "seed"), 6)
		b.rateHz = 5
		exponent := rapid.SampledFrom([]float64{0.7, 1, 1.3}).Draw(t, "exponent")
		b.counts = func(p float64) float64 { return 2500 * math.Pow(p/1200, exponent) }
		l := b.load(Kilogram, 30, 60, 90, 120, 60)
		r, err := Calibrate(l)
		require.NoError(t, err)
		k := rapid.Float64Range(0.3, 3).Draw(t, "k")
		for i := range l.Steps {
			l.Steps[i].Weight *= k
		}
		heavy, err := Calibrate(l)
		require.NoError(t, err)
		l.AreaMM2 *= k
		spread, err := Calibrate(l)
		require.NoError(t, err)
		for _, x := range []float64{50, 400, 1100, 2300, 3000} {
			assert.InEpsilon(t, k*r.Curve.At(x), heavy.Curve.At(x), 1e-6)
			assert.InEpsilon(t, r.Curve.At(x), spread.Curve.At(x), 1e-6)
		}
		assert.InDelta(t, r.Hysteresis, heavy.Hysteresis, 1e-6)
	})
}

// The order of consecutive steps under one weight, in the same direction, changes neither
// curve nor hysteresis.
func TestOrderOfEqualSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(rapid.Uint64().Draw(t, "seed"), 4)
		b.rateHz = 5
		l := b.load(Kilogram, 30, 60, 60, 60, 90, 120, 120, 60, 60, 30)
		r, err := Calibrate(l)
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 1))
		for _, group := range [][]int{{1, 2, 3}, {7, 8}} {
			to := slices.Clone(group)
			rng.Shuffle(len(to), func(i, j int) { to[i], to[j] = to[j], to[i] })
			frames := make([][][]uint16, len(group))
			for i := range group {
				frames[i] = l.Steps[to[i]].Frames
			}
			for i, at := range group {
				l.Steps[at].Frames = frames[i]
			}
		}
		again, err := Calibrate(l)
		require.NoError(t, err)
		assert.InEpsilon(t, r.Curve.At(900), again.Curve.At(900), 1e-9)
		assert.InDelta(t, r.Hysteresis, again.Hysteresis, 1e-9)
	})
}

// Choosing a curve has a cost if the true curve is a line and a benefit if it is not:
// readings have errors of 0.4 % of the range, and curves are compared with the true one
// over the whole range.
func TestCostOfChoosingACurve(t *testing.T) {
	const runs, off, top = 100, 0.004, 1500.
	bent := func(p float64) float64 { return p * (1 + 0.15*math.Sin(p/300)) }
	straight := func(p float64) float64 { return p }
	for _, loads := range []int{3, 5, 8, 12} {
		rng := rand.New(rand.NewPCG(1, uint64(loads)))
		lines, square := 0, map[bool]float64{}
		for range runs {
			for _, isBent := range []bool{false, true} {
				truth := straight
				if isBent {
					truth = bent
				}
				x, p := make([]float64, loads), make([]float64, loads)
				for i := range x {
					p[i] = top * float64(i+1) / float64(loads)
					x[i] = truth(p[i]) + off*top*rng.NormFloat64()
				}
				c, _ := chooseCurve(x, p)
				if !isBent && c.Kind == LinearCurve {
					lines++
				}
				for at := 0.1; at < 1; at += 0.05 {
					miss := (c.At(truth(at*top)) - at*top) / top
					square[isBent] += miss * miss / 18 / runs // 18 points
				}
			}
		}
		t.Logf("%d loads: a line is taken for a line in %.0f %%; off by %.2f %% of the range, a bent curve by %.2f %%",
			loads, 100*float64(lines)/runs, 100*math.Sqrt(square[false]), 100*math.Sqrt(square[true]))
		assert.Greater(t, lines, runs/2)
		assert.Less(t, math.Sqrt(square[false]), off)
		if loads >= 5 {
			assert.Less(t, math.Sqrt(square[true]), 0.03) // a line would be off by 6 %
		}
	}
}

// An accepted curve increases: more counts never give less pressure.
func TestEveryCurveRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 9).Draw(t, "loads")
		x, p := make([]float64, n), make([]float64, n)
		at, load := 0.0, 0.0
		for i := range x {
			at += rapid.Float64Range(1, 500).Draw(t, "dx")
			load += rapid.Float64Range(10, 300).Draw(t, "dp")
			x[i], p[i] = at, load
		}
		c, _ := chooseCurve(x, p)
		require.NotEmpty(t, c.Kind)
		last := 0.0
		for v := x[0] / 7; v < 1.3*at; v += at / 97 {
			require.GreaterOrEqual(t, c.At(v), last)
			last = c.At(v)
		}
	})
}

func TestCalibrateRefuses(t *testing.T) {
	good := func() Loading { return newBench(1, 12).load(Kilogram, 30, 60, 90, 120, 60, 30) }
	of := func(unit Unit, weights ...float64) Loading { return newBench(1, 12).load(unit, weights...) }
	change := func(f func(l *Loading)) Loading {
		l := good()
		f(&l)
		return l
	}
	_, err := Calibrate(good())
	require.NoError(t, err)
	for _, c := range []struct {
		l    Loading
		says string
	}{
		{Loading{Unit: "N", AreaMM2: 100, FullCounts: 4095}, "no steps: put at least 3 different weights on"},
		{of(Kilogram, 30, 60, 30), "2 different weights: put on at least 3"},
		{of(Kilogram, 30, 90, 60, 120, 60), "step 4 goes up from 60 to 120 kg after the way down had begun"},
		{of(Kilogram, 120, 90, 60, 90, 120), "step 4 goes up from 60 to 90"},
		{of(Kilogram, 30, 60, 90, 120), "take the weights off in steps as well"},
		{of(Kilogram, 30, 60, 90, 120, 75), "no weight was read both on the way up and on the way down"},
		{change(func(l *Loading) { l.Unit = Gram }), "120 g on 1000 mm² is 1.18 kPa, not a pressure under a shoe: did you mean 120 N (120 kPa), or 120 kg (1177 kPa)?"},
		{change(func(l *Loading) {
			for i := range l.Steps {
				l.Steps[i].Weight *= 1000 // grams taken for kilograms
			}
		}), "120000 kg on 1000 mm² is 1.18e+06 kPa, not a pressure under a shoe: did you mean 120000 g (1177 kPa)?"},
		{change(func(l *Loading) { l.AreaMM2 = 10 }), "did you mean 120 g (118 kPa), or an area of 10 cm² (1177 kPa)?"},
		{change(func(l *Loading) { l.AreaMM2 = 1e9 }), "check the weights and the area"},
		{change(func(l *Loading) { l.Unit = "lb" }), `weights in "lb": give N, kg or g`},
		{change(func(l *Loading) { l.AreaMM2 = math.NaN() }), "a pad of NaN mm²"},
		{change(func(l *Loading) { l.FullCounts = 0 }), "count at which a cell saturates"},
		{change(func(l *Loading) { l.RelLoadSD = -1 }), "weights known to -1"},
		{change(func(l *Loading) { l.Zero = l.Zero[:5] }), "are they another strip's?"},
		{change(func(l *Loading) { l.Gains = make([]float64, 12) }), "gain 0 of cell 1 of the scan"},
		{change(func(l *Loading) { l.Under = []int{3, 12} }), "cell 13 of the scan is under the pad, but the strip has 12"},
		{change(func(l *Loading) { l.Under = []int{} }), "no cell is under the pad"},
		{change(func(l *Loading) { l.Steps[2].Weight = -90 }), "step 3: a weight of -90 kg"},
		{change(func(l *Loading) { l.Steps[2].TimeS[5] = 0 }), "step 3: frame 6 at 0 s: times must rise"},
		{change(func(l *Loading) { l.Steps[2].OnS += 20 }), "step 3 has no frame later than 1 s after its weight changed"},
		{change(func(l *Loading) { l.Steps[0], l.Steps[5] = l.Steps[5], l.Steps[0] }), "step 2 begins at 14 s, before or with the one before it"},
		{change(func(l *Loading) { l.Steps[1].Frames[40][7] = 4095 }), "step 2: cell 8 of the scan is saturated under 60 kg: end below this load"},
		{change(func(l *Loading) {
			for _, s := range l.Steps {
				for _, f := range s.Frames {
					f[2], f[8] = 40, 41
				}
			}
		}), "cells 3 and 9 of the scan never respond to 120 kg: repair the strip, or leave them out"},
		{change(func(l *Loading) {
			for _, s := range l.Steps {
				for _, f := range s.Frames {
					clear(f)
				}
			}
		}), "the cells under the pad do not respond"},
		{change(func(l *Loading) {
			l.Steps[1].Frames, l.Steps[4].Frames = l.Steps[2].Frames, l.Steps[2].Frames
			l.Steps[2].Frames = l.Steps[0].Frames
		}),
			"588.4 kPa reads 1176.8 counts and 882.6 kPa 392.3: the curve is not monotone; check these weights"},
	} {
		_, err := Calibrate(c.l)
		assert.ErrorContains(t, err, c.says)
	}
}

// A curve that differs from the previous one by the ratio of two units gives a warning.
func TestCalibrateDoubtsAnotherUnit(t *testing.T) {
	l := newBench(1, 12).load(Kilogram, upAndDown...)
	l.Before = Curve{Kind: LinearCurve, KPaPerCount: 0.75}
	r, err := Calibrate(l)
	require.NoError(t, err)
	assert.Empty(t, r.Warnings)
	l.Unit = Newton
	r, err = Calibrate(l)
	require.NoError(t, err)
	require.NotEmpty(t, r.Warnings)
	assert.Contains(t, r.Warnings[0], "the new curve gives 0.102 times the pressure of the one before: were the weights in kg and taken for N")
	l.Unit, l.Before.KPaPerCount = Kilogram, 0.75e-3
	r, err = Calibrate(l)
	require.NoError(t, err)
	require.NotEmpty(t, r.Warnings)
	assert.Regexp(t, `the new curve gives \d{3,4}(\.\d)? times the pressure of the one before: were the weights in g and taken for kg`, r.Warnings[0])
}

// A zero taken without the pad leaves an offset that a curve through 0 cannot represent.
func TestCalibrateSeesAZeroThatIsOff(t *testing.T) {
	b := newBench(1, 12)
	l := b.load(Kilogram, upAndDown...)
	for k := range l.Zero {
		l.Zero[k] -= 60
	}
	r, err := Calibrate(l)
	require.NoError(t, err)
	require.NotEmpty(t, r.Warnings)
	assert.Contains(t, r.Warnings[0], "misses 0 by -4")
}

// No input makes Calibrate panic, and accepted results are finite.
func FuzzCalibrate(f *testing.F) {
	f.Add(uint64(1), 30.0, 60.0, 90.0, 60.0, 1000.0, 4095)
	f.Add(uint64(2), 0.0, 1e300, math.Inf(1), nan, -1.0, 0)
	f.Fuzz(func(t *testing.T, seed uint64, a, b, c, d, area float64, full int) {
		s := newBench(seed, 4)
		s.stepS, s.rateHz = 3, 5
		l := s.load(Kilogram, 20, 40, 60, 40)
		for i, w := range []float64{a, b, c, d} {
			l.Steps[i].Weight = w
		}
		l.AreaMM2, l.FullCounts = area, full
		if r, err := Calibrate(l); err == nil {
			assert.False(t, math.IsNaN(r.Curve.At(100)) || math.IsInf(r.Curve.At(100), 0))
		}
	})
}
