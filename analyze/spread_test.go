package analyze_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// one returns the measures of a single relevé of the left foot.
func one(t *testing.T, b bed, seatSD, gainSD float64) *measure.Hold {
	t.Helper()
	b.width, b.depth = 36, 22
	side := on(device.Left)
	side.Strip.Mount.SeatSDMM, side.Strip.Calibration.GainSD = seatSD, gainSD
	m := meta(side)
	r := analyzed(t, m, shoot(m, [2][][]float64{{b.cells(side.Strip)}, nil}))
	require.Len(t, r.Releves, 1)
	require.NotNil(t, r.Releves[0].Hold)
	return r.Releves[0].Hold
}

// The uncertainty of the centre of pressure due to an assumed seat is the profile's
// standard deviation along either axis, which is about the effect of a mounting:
// recordings of a strip that is truly 1 mm off are analyzed with the profile, on a
// platform with some margin on the grid. The pressure is that of the middle-third rule.
// (The results move by 0.75 to 1 mm, because the platform's edge keeps its position
// within the cells that it cuts. The profile's value is on the safe side.)
func TestSeatIsWhatAMountingDoes(t *testing.T) {
	const sd = 1.0
	side := on(device.Left)
	side.Strip.Mount.SeatSDMM, side.Strip.Calibration.GainSD = sd, 0
	for _, e := range []float64{0, 2, -3, -6} {
		b := bed{400, 36, 22, e}
		for axis, name := range [2]measure.Measure{measure.Medial, measure.Over} {
			fields := [][]float64{b.cells(side.Strip)}
			for _, d := range [2]float64{-sd, sd} {
				moved := *side.Strip
				moved.Mount.OffsetMM[axis] = d
				fields = append(fields, b.cells(&moved))
			}
			m := meta(side)
			r := analyzed(t, m, shoot(m, [2][][]float64{fields, nil}))
			require.Len(t, r.Releves, 3)
			var read [3]float64
			for i, one := range r.Releves {
				read[i], _ = one.Value(name)
			}
			assert.InDelta(t, 0.87, read[1]-read[0], 0.15, "a strip too far back reads too far forward")
			assert.InDelta(t, 0.87, read[0]-read[2], 0.15)
			assert.InDelta(t, sd, effect(one(t, b, sd, 0), hold.Seat, name), 1e-9, "%s at e = %v mm", name, e)
		}
	}
}

func TestSeatScales(t *testing.T) {
	m := one(t, bed{force: 400, e: 2}, 0.5, 0)
	assert.InDelta(t, 0.5, effect(m, hold.Seat, measure.Over), 1e-9)
	assert.InEpsilon(t, effect(m, hold.Seat, measure.Over)/11, effect(m, hold.Seat, measure.OverNorm), 0.001, "half the depth is 11 mm")
	assert.InEpsilon(t, effect(m, hold.Seat, measure.Over), effect(m, hold.Seat, measure.EdgeDistance), 0.05, "the nearest edge is the front one")
	assert.Zero(t, effect(m, hold.Seat, measure.Load), "load does not depend on where the strip sits")
}

// Outside the kern the contact share of a rectangle falls by 3/B per mm (middle-third
// rule, bed.share). The contribution of the seat is that or slightly more, the larger of
// both directions, since a displaced strip also finds the edge of contact at another
// position within its cells.
func TestSeatMovesContact(t *testing.T) {
	const sd = 0.5
	for _, e := range []float64{-6.5, -5.5, 5.5, 6.5} {
		seat := effect(one(t, bed{force: 400, e: e}, sd, 0), hold.Seat, measure.ContactShare) / (3.0 / 22 * sd)
		assert.Greater(t, seat, 0.95, "at e = %v mm", e)
		assert.Less(t, seat, 1.5, "at e = %v mm", e)
	}
}

// Independent gains with standard deviation g give the load Σp the standard uncertainty
// g·√Σp² (JCGM 100:2008, 5.1.2). From 16 draws it has a relative standard error of 1/√32,
// 18 %; the tolerance is twice that.
func TestGainMovesLoad(t *testing.T) {
	const g = 0.03
	for _, e := range []float64{0, 3, -6} {
		p := bed{400, 36, 22, e}.cells(strip(device.Left))
		sum, squares := 0.0, 0.0
		for _, v := range p {
			sum += v
			squares += v * v
		}
		m := one(t, bed{force: 400, e: e}, 0, g)
		assert.Zero(t, effect(m, hold.Seat, measure.Over))
		assert.InEpsilon(t, 400*onHold*g*math.Sqrt(squares)/sum, effect(m, measure.Gain, measure.Load), 0.36, "at e = %v mm", e)
		assert.InDelta(t, effect(m, measure.Gain, measure.Load), m.ULoadN, 0.8, "the ends of the hold scatter a little")
		twice := one(t, bed{force: 400, e: e}, 0, 2*g)
		assert.InEpsilon(t, 2*effect(m, measure.Gain, measure.Load), effect(twice, measure.Gain, measure.Load), 1e-6)
	}
}

// Only seat and gains contribute to the uncertainty of a hold without sway.
func TestUncertaintyIsCombined(t *testing.T) {
	m := one(t, bed{force: 400, e: 2}, 1, 0.03)
	assert.InEpsilon(t, math.Hypot(effect(m, hold.Seat, measure.Over), effect(m, measure.Gain, measure.Over)), m.UOverMM, 1e-4)
	assert.InEpsilon(t, math.Hypot(effect(m, hold.Seat, measure.Medial), effect(m, measure.Gain, measure.Medial)), m.UMedialMM, 1e-4)
	assert.Greater(t, effect(m, measure.Gain, measure.Over), 0.02)

	behind := one(t, bed{force: 400, e: -6}, 1, 0.03)
	assert.InEpsilon(t, math.Hypot(effect(behind, hold.Seat, measure.ContactShare), effect(behind, measure.Gain, measure.ContactShare)), behind.UContactShare, 0.02)

	still := one(t, bed{force: 400, e: 2}, 0, 0)
	assert.InDelta(t, 0, still.UOverMM, 0.01)
	assert.Equal(t, measure.OverTheBox, still.Verdict)
	assert.InDelta(t, 1, still.PInside, 1e-9)
}

// Sway adds the standard error of the mean: for white noise of standard deviation s over
// n frames s/√n. From some ten batches it has a relative standard error of a quarter; the
// tolerance is twice that.
func TestSwayIsUncertaintyToo(t *testing.T) {
	side := on(device.Left)
	side.Strip.Mount.SeatSDMM, side.Strip.Calibration.GainSD = 0, 0
	m := meta(side)
	frames := shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil})
	r := rand.New(rand.NewPCG(3, 3))
	for i := range frames {
		at := seconds(&frames[i])
		level := max(0, min(1, (at-pause)/up, (pause+2*up+held-at)/up))
		// Clipped to the middle third, 22/6 mm.
		for k, p := range (bed{400, 36, 22, max(-3.6, min(3.6, r.NormFloat64()))}).cells(side.Strip) {
			frames[i].Counts[k] = uint16(math.Round(level * p / side.Strip.Calibration.KPaPerCount))
		}
	}
	one := analyzed(t, m, frames).Releves[0]
	assert.InEpsilon(t, 1/math.Sqrt(one.HoldS*rate), one.UOverMM, 0.5)
	assert.InDelta(t, 0, one.OverMM, 4*one.UOverMM)
}
