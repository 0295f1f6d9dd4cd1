//go:build !race

package analyze_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// creeping returns the frames of one load of 400 N that rises over rise s and stays for
// held s, on cells with a creep of c per decade and a curve measured with loads of age s.
// The reading is the sum over two hundred increments of the load, for which the analysis
// uses the integral.
func creeping(m device.Metadata, c, age, rise, held float64) (frames []device.Frame) {
	const bits = 200
	side := m.Sides[device.Left]
	curve := side.Strip.Curve()
	p := standing(1, bed{force: 400, e: 2})[0]
	memory := func(t float64) (share float64) {
		for b := range bits {
			if age := t - (float64(b)+0.5)/bits*rise; age > 0 {
				share += (1 + c*math.Log10(max(age, 1e-3))) / bits
			}
		}
		return share
	}
	for i := range int((pause + rise + held + up + pause) * rate) {
		t := float64(i)/rate - pause
		share := 0.0
		if t > 0 && t < rise+held+up {
			share = memory(t) / (1 + c*math.Log10(age)) * min(1, (rise+held+up-t)/up)
		}
		counts := make([]uint16, len(p))
		for k := range counts {
			counts[k] = uint16(math.Round(curve.Counts(k, p[k]) * share))
		}
		frames = append(frames, device.Frame{
			Foot: device.Left, Seq: int64(i), TimeUS: uint64(i) * 1e6 / rate,
			ArrivalNS: m.Started.UnixNano() + int64(i)*1e9/rate, Counts: counts,
		})
	}
	return frames
}

// Holds of a second to a minute have the true load when creep of either sign is removed.
// A hold includes the last 15 % of the rise, when the load was lower.
func TestCreepIsTakenOut(t *testing.T) {
	var worst float64 // relative error of the load after correction
	for _, held := range []float64{1, 10, 60} {
		for _, c := range []float64{-0.03, 0.08} {
			for _, age := range []float64{2, 15} {
				m := meta(on(device.Left))
				k := &m.Sides[device.Left].Strip.Calibration
				k.CreepPerDecade = c
				const rise = 0.3
				frames := creeping(m, c, age, rise, held)
				raw := budgeted(t, m, frames)[0]
				k.CurveAgeS, k.UCreep = age, 0.004
				one := budgeted(t, m, frames)[0]
				in := 0.15 * (rise + up)
				want := 400 * (held + in*(1-0.15/2)) / (held + in)
				assert.InEpsilon(t, want, one.LoadN, 0.0015, "%v s, %v a decade, curve of %v s", held, c, age)
				worst = max(worst, math.Abs(one.LoadN/want-1))
				if was := math.Abs(raw.LoadN - want); was > 3 {
					assert.Less(t, math.Abs(one.LoadN-want), was/4)
				}
				assert.InDelta(t, raw.OverMM, one.OverMM, 0.002, "all cells creep alike")
				assert.InDelta(t, raw.ContactShare, one.ContactShare, 0.001)
				assert.InEpsilon(t, one.LoadN/raw.LoadN, one.PeakKPa/raw.PeakKPa, 1e-3)
				assert.InEpsilon(t, one.LoadN/raw.LoadN, one.PeakFrameKPa/raw.PeakFrameKPa, 1e-3)

				// The remaining uncertainty is 0.4 % per decade, times the number of
				// decades.
				u := from(t, one.Budget[measure.Load], hold.Creep).U
				decades := math.Log10(held/age) - 1/math.Ln10 // mean of log t from 0 to held is log held − 1
				assert.InDelta(t, 0.004*400*math.Abs(decades), u, 0.3+0.1*u)
			}
		}
	}
	t.Logf("load after correction: errors up to %.2f %%", 100*worst)
}

// The same holds for nonlinear curves.
func TestCreepThroughACurve(t *testing.T) {
	for name, c := range calibrations() {
		m := meta(on(device.Left))
		m.Sides[device.Left].Strip.Calibration = c
		k := &m.Sides[device.Left].Strip.Calibration
		k.CreepPerDecade, k.CurveAgeS = 0.05, 10
		one := budgeted(t, m, creeping(m, 0.05, 10, 0.3, 3))[0]
		in := 0.15 * (0.3 + up)
		assert.InEpsilon(t, 400*(3+in*(1-0.15/2))/(3+in), one.LoadN, 0.006, name)
	}
}

// Where the age of the curve is known but the uncertainty of the creep is not, the whole
// correction counts as its bound. A creep of a quarter per decade is too large for the
// law, and is only bounded.
func TestCreepNotWellKnown(t *testing.T) {
	m := meta(on(device.Left))
	frames := shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil})
	k := &m.Sides[device.Left].Strip.Calibration
	raw := budgeted(t, m, frames)[0]
	k.CreepPerDecade, k.CurveAgeS = 0.02, 10
	one := budgeted(t, m, frames)[0]
	require.NotEqual(t, raw.LoadN, one.LoadN)
	line := from(t, one.Budget[measure.Load], hold.Creep)
	assert.InEpsilon(t, math.Abs(raw.LoadN-one.LoadN)/math.Sqrt(3), line.U, 1e-2)
	assert.Contains(t, line.Basis, "the whole correction")

	k.CreepPerDecade = 0.25
	one = budgeted(t, m, frames)[0]
	assert.InDelta(t, raw.LoadN, one.LoadN, 1e-9)
	assert.InEpsilon(t, 0.25*raw.LoadN/math.Sqrt(3), from(t, one.Budget[measure.Load], hold.Creep).U, 1e-3)
}
