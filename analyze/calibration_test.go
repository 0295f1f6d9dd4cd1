//go:build !race

package analyze_test

import (
	"errors"
	"io"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
	"aplomb/plots/words"
)

// calibrations returns three calibrations of strips with uneven cells, up to about 6,500
// kPa at 16 bits.
func calibrations() map[string]device.Calibration {
	gains := make([]float64, 40)
	for k := range gains {
		gains[k] = 1 + 0.12*math.Sin(float64(3*k)) + 0.05*float64(k/8-2) // more to the front
	}
	sum := 0.0
	for _, g := range gains {
		sum += g / 40
	}
	for k := range gains {
		gains[k] /= sum
	}
	return map[string]device.Calibration{
		"line":   {KPaPerCount: 0.1, Gains: gains, GainSD: 0.03},
		"power":  {Curve: "power", KPaAtOneCount: 6500 / math.Pow(65535, 1.4), Exponent: 1.4, Gains: gains, GainSD: 0.03},
		"points": {Curve: "points", Counts: []float64{0, 6000, 20000, 40000, 60000}, KPa: []float64{0, 300, 1500, 3900, 7000}, Gains: gains, GainSD: 0.03},
	}
}

// A strip with uneven cells, a nonlinear curve and a different zero in every cell
// measures what the middle-third rule predicts when its calibration is applied.
func TestMiddleThirdRuleThroughACalibration(t *testing.T) {
	for name, c := range calibrations() {
		t.Run(name, func(t *testing.T) {
			s := strip(device.Left)
			s.Calibration = c
			middleThird(t, s, 36, 22, 7)
		})
	}
}

// Without that calibration the same counts give other results.
func TestWithoutItsCalibration(t *testing.T) {
	for name, c := range calibrations() {
		side := on(device.Left)
		side.Strip.Calibration = c
		m := meta(side)
		frames := shoot(m, [2][][]float64{standing(1, bed{force: 400, e: -3}), nil})
		side.Strip.Calibration = device.Calibration{KPaPerCount: 0.1, GainSD: 0.03}
		one := analyzed(t, m, frames).Releves[0]
		assert.Greater(t, math.Abs(one.OverMM+3), 0.1, "%s: over %.2f mm, 3 behind", name, one.OverMM)
	}
}

// A recording that begins under load is read a second time once the zero is known.
func TestCurveThatBeginsUnderLoad(t *testing.T) {
	side := on(device.Left)
	side.Strip.Calibration = calibrations()["power"]
	m := meta(side)
	frames := shoot(m, [2][][]float64{standing(2, bed{force: 400, e: -3}), nil})
	for _, f := range frames {
		for k := range f.Counts {
			f.Counts[k] += uint16(300 + 5*k)
		}
	}
	r := analyzed(t, m, slices.DeleteFunc(frames, func(f device.Frame) bool { return seconds(&f) < 1.5 }))
	assert.Contains(t, words.Warnings(r.Warnings), "left: the recording begins under load: its zero is taken from a later time")
	require.Len(t, r.Releves, 2)
	for _, one := range r.Releves {
		assert.InDelta(t, 400, one.LoadN, 400*(1-onHold)+0.5)
		assert.InDelta(t, -3, one.OverMM, 0.03)
	}
}

// Results have the warnings about their calibration, and about pressures beyond it.
func TestWarningsOfACalibration(t *testing.T) {
	analyzedWith := func(c device.Calibration, alter func([]device.Frame) []device.Frame) *measure.Result {
		side := on(device.Left)
		side.Strip.Calibration = c
		m := meta(side)
		m.Started = time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
		frames := shoot(m, [2][][]float64{standing(2, bed{force: 400}), nil}) // 505 kPa on whole cells, 505·w on cells at the edges
		if alter != nil {
			frames = alter(frames)
		}
		return analyzed(t, m, frames)
	}
	signed := func(c device.Calibration) device.Calibration {
		s := strip(device.Left)
		c.MadeFor = s.Name
		s.Calibration = c
		c.Hash = c.Sum(s)
		return c
	}
	good := device.Calibration{KPaPerCount: 0.1, GainSD: 0.01, RangeKPa: []float64{100, 600}, Date: device.Date{Year: 2026, Month: 2, Day: 1}}

	r := analyzedWith(signed(good), nil)
	assert.Empty(t, words.Warnings(r.Warnings))
	assert.Empty(t, words.Warnings(r.Releves[0].Warnings))

	old := good
	old.Date.Year = 2024
	assert.Equal(t, []string{"left: strip L-01: its calibration of 2024-02-01 was out of date (good for 180 days): calibrate it again"},
		words.Warnings(analyzedWith(signed(old), nil).Warnings))

	foreign := signed(good)
	foreign.MadeFor = "L-02"
	assert.Equal(t, []string{"left: strip L-01: its calibration was made for strip L-02: calibrate this one"}, words.Warnings(analyzedWith(foreign, nil).Warnings))

	// One cell is beyond the range for half a second of the first hold; both holds
	// together last 4.2 s.
	r = analyzedWith(signed(good), func(frames []device.Frame) []device.Frame {
		for i := range frames {
			if at := seconds(&frames[i]); at >= 2 && at < 2.5 {
				frames[i].Counts[20] = 6100
			}
		}
		return frames
	})
	require.Len(t, r.Warnings, 1)
	assert.Regexp(t, `^left: pressure beyond the 600 kPa up to which strip L-01 was calibrated, in 1[2345] % of the frames held \(to a tenth of a second\)$`, words.Warning(r.Warnings[0]))
	assert.Equal(t, []string{"pressure beyond the calibrated range: load and peak pressure rely on extrapolating the curve"}, words.Warnings(r.Releves[0].Warnings))
	assert.Empty(t, words.Warnings(r.Releves[1].Warnings))

	// The zero of the calibration is used for a strip that is never unloaded.
	zeroed := good
	zeroed.ZeroCounts = make([]float64, 40)
	for k := range zeroed.ZeroCounts {
		zeroed.ZeroCounts[k] = 50
	}
	r = analyzedWith(signed(zeroed), func(frames []device.Frame) []device.Frame {
		for _, f := range frames {
			for k := range f.Counts {
				f.Counts[k] += 50
			}
		}
		return only(frames, func(f *device.Frame) bool { return seconds(f) > 1.5 && seconds(f) < 3 })
	})
	assert.Equal(t, []string{"left: the strip was never unloaded: the zero of its calibration is used"}, words.Warnings(r.Warnings))
	assert.InDelta(t, 400, r.Releves[0].LoadN, 0.5)
}

// A saturated cell gives a warning wherever in the hold it occurs, even in a single frame
// that no map of a whole tenth of a second contains.
func TestSaturatedForAFrame(t *testing.T) {
	const begins = pause + 0.85*up // of the hold
	for _, at := range []float64{begins + 0.01, begins + 1, begins + held + 2*edge - 0.02} {
		m := meta(on(device.Left))
		frames := shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil})
		frames[int(at*rate)].Counts[20] = 65535
		r := analyzed(t, m, frames)
		assert.Equal(t, []string{"cells at the end of their range: load, peak pressure and pressure-time integral are lower bounds; " +
			"over, medial, contact share and thirds are unreliable"}, words.Warnings(r.Releves[0].Warnings), "at %.2f s", at)
	}
}

// A calibration that halves the residual standard deviation of the gains halves their
// contribution to the uncertainty.
func TestGainSDOfTheCalibration(t *testing.T) {
	u := func(sd float64) float64 {
		side := on(device.Left)
		side.Strip.Calibration.GainSD = sd
		m := meta(side)
		return effect(analyzed(t, m, shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil})).Releves[0], measure.Gain, measure.Over)
	}
	assert.InEpsilon(t, u(device.DefaultGainSD)/2, u(device.DefaultGainSD/2), 0.05)
}

// A simulated strip with uneven cells and a nonlinear curve measures, through its
// calibration, the true values and those of a strip with even cells.
func TestSimulatedThroughACalibration(t *testing.T) {
	even, _ := simulated(t, device.Calibration{KPaPerCount: 0.1, GainSD: 0.03})
	for name, c := range calibrations() {
		r, truth := simulated(t, c)
		require.Len(t, r.Releves, len(truth))
		for i, one := range r.Releves {
			assert.InEpsilon(t, truth[i].LoadN, one.LoadN, 0.005, name)
			assert.InDelta(t, truth[i].OverMM, one.OverMM, 0.05, name)
			assert.InDelta(t, truth[i].MedialMM, one.MedialMM, 0.05, name)
			// Contact share is that of the mean map, which is at least the mean over
			// single frames.
			assert.InDelta(t, even.Releves[i].ContactShare, one.ContactShare, 0.01, name)
		}
	}
}

// simulated analyzes three relevés on a strip that is as its calibration says.
func simulated(t *testing.T, c device.Calibration) (*measure.Result, []sim.Truth) {
	side := on(device.Left)
	side.Strip.Calibration = c
	side.Strip.Mount.SeatSDMM = 0
	dancer := sim.DefaultDancer()
	dancer.Rises = 3
	m := meta(side)
	setup := sim.Setup{Seed: 3, Start: m.Started, RateHz: rate, Dancer: dancer, Faults: sim.Faults{Zero: 300, ZeroSD: 60, Noise: 5}}
	setup.Feet[device.Left] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: platform.Point{1, -4}, ScatterSD: 0.5}}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	var frames []device.Frame
	for {
		var f device.Frame
		err := session.Next(&f)
		if errors.Is(err, io.EOF) {
			return analyzed(t, m, frames), session.Truth()
		}
		require.NoError(t, err)
		frames = append(frames, f)
	}
}
