package analyze_test

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// budgeted analyzes frames and keeps the budgets.
func budgeted(t *testing.T, m device.Metadata, frames []device.Frame) []measure.Releve {
	t.Helper()
	path := filepath.Join(t.TempDir(), "made.mcap")
	write(t, path, m, frames)
	r, err := analyze.File(context.Background(), path, analyze.Options{KeepBudget: true, AtProfile: true})
	require.NoError(t, err)
	return r.Releves
}

// from returns the line of a source in a budget.
func from(t *testing.T, b measure.Budget, source measure.Source) measure.Contribution {
	t.Helper()
	for _, l := range b.Sources {
		if l.Source == source {
			return l
		}
	}
	require.Fail(t, "no such source", string(source))
	return measure.Contribution{}
}

// The standard uncertainties of a relevé are the root sums of squares of its budgets, and
// budgets are in the JSON only where they were requested.
func TestUncertaintyIsTheBudgets(t *testing.T) {
	m := meta(on(device.Left))
	frames := shoot(m, [2][][]float64{standing(2, bed{force: 400, e: -5.5}), nil})
	for _, one := range budgeted(t, m, frames) {
		require.Len(t, one.Budget, 4)
		for name, u := range map[measure.Measure]float64{
			measure.Over: one.UOverMM, measure.Medial: one.UMedialMM, measure.ContactShare: one.UContactShare, measure.Load: one.ULoadN,
		} {
			squares := 0.0
			for _, l := range one.Budget[name].Sources {
				squares += l.U * l.U
			}
			assert.InEpsilon(t, math.Sqrt(squares), u, 1e-9, name)
		}
		over := one.Budget[measure.Over]
		assert.InDelta(t, 1, from(t, over, hold.Seat).U, 1e-9)
		assert.Equal(t, measure.TypeB, from(t, over, hold.Seat).Type, "our assumption")
		assert.InDelta(t, 8.0, float64(from(t, over, hold.Seat).DOF), 0)
		assert.Positive(t, from(t, over, hold.Reconstruction).U)
		assert.Positive(t, from(t, over, hold.Noise).U, "rounding to counts, at least")
		data, err := json.Marshal(one)
		require.NoError(t, err)
		assert.Contains(t, string(data), `"budget":{"contact_share":{"sources":[{"source":"seat"`)
	}
	data, err := json.Marshal(analyzed(t, m, frames).Releves)
	require.NoError(t, err)
	assert.NotContains(t, string(data), "budget")
}

// A seat that was measured is an evaluation of type A with the degrees of
// freedom of its mountings.
func TestMeasuredSeat(t *testing.T) {
	side := on(device.Left)
	side.Strip.Mount.SeatMountings = 6
	m := meta(side)
	l := from(t, budgeted(t, m, shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil}))[0].Budget[measure.Over], hold.Seat)
	assert.Equal(t, measure.TypeA, l.Type)
	assert.Equal(t, measure.DOF(5), l.DOF)
	assert.Contains(t, l.Basis, "measured in 6 mountings")
}

// A zero that changes by d kPa in every cell under load gives the load the standard
// uncertainty d·A/√3, where A is the area of all cells (rectangular within the change,
// JCGM 100:2008, 4.3.7). Where only the cells of the front half drift, the centre of
// pressure is uncertain too: by the force d·A/2 times its lever arm (mean over of those
// cells less over), divided by the load.
func TestZeroDrift(t *testing.T) {
	const counts, area = 30, 40 * 25.0 // mm²
	for _, front := range []bool{false, true} {
		m := meta(on(device.Left))
		s := m.Sides[device.Left].Strip
		// The strip stays unloaded afterwards, so that the tracker finds the new zero.
		fields := append(standing(1, bed{force: 400, e: 2}), make([]float64, s.Cells()))
		frames := shoot(m, [2][][]float64{fields, nil})
		share, lever := 1.0, 0.0
		if front {
			share, lever = 0.4, 7.5 // two rows of five, at 5 and 10 mm
		}
		for i := range frames {
			for k := range frames[i].Counts {
				row, _ := s.RowCol(k)
				if front && row < 3 {
					continue
				}
				frames[i].Counts[k] += 100
				if seconds(&frames[i]) > pause+2*up+held {
					frames[i].Counts[k] += counts
				}
			}
		}
		one := budgeted(t, m, frames)[0]
		force := counts * s.Calibration.KPaPerCount * area / 1000 * share
		load := from(t, one.Budget[measure.Load], hold.ZeroDrift)
		assert.InEpsilon(t, force/math.Sqrt(3), load.U, 0.01)
		assert.Equal(t, measure.Rectangular, load.Distribution)
		over := from(t, one.Budget[measure.Over], hold.ZeroDrift)
		assert.InEpsilon(t, force*math.Abs(lever-one.OverMM)/(one.LoadN-force)/math.Sqrt(3), over.U, 0.1)
	}
}

// Where the strip is never unloaded again, the drift has no bound, and the budget says
// so.
func TestZeroDriftNotKnown(t *testing.T) {
	m := meta(on(device.Left))
	frames := shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil})
	frames = only(frames, func(f *device.Frame) bool { return seconds(f) < pause+up+held })
	one := budgeted(t, m, frames)[0]
	require.NotNil(t, one.Hold)
	l := from(t, one.Budget[measure.Load], hold.ZeroDrift)
	assert.Zero(t, l.U)
	assert.Contains(t, l.Basis, "not known")
}

// Sway changes contact share according to the middle-third rule: by 3/B per mm beyond the
// middle third, and not at all within it.
func TestSwayReachesContact(t *testing.T) {
	for _, e := range []float64{0, -6} {
		side := on(device.Left)
		side.Strip.Mount.SeatSDMM, side.Strip.Calibration.GainSD = 0, 0
		m := meta(side)
		frames := shoot(m, [2][][]float64{standing(1, bed{force: 400, e: e}), nil})
		r := rand.New(rand.NewPCG(5, 5))
		for i := range frames {
			at := seconds(&frames[i])
			level := max(0, min(1, (at-pause)/up, (pause+2*up+held-at)/up))
			for k, p := range (bed{400, 36, 22, e + 0.2*r.NormFloat64()}).cells(side.Strip) {
				frames[i].Counts[k] = uint16(math.Round(level * p / side.Strip.Calibration.KPaPerCount))
			}
		}
		one := budgeted(t, m, frames)[0]
		over := from(t, one.Budget[measure.Over], hold.Swaying)
		contact := from(t, one.Budget[measure.ContactShare], hold.Swaying)
		require.Positive(t, over.U)
		if e == 0 {
			assert.Less(t, contact.U/over.U, 0.01)
			continue
		}
		assert.InEpsilon(t, 3.0/22, contact.U/over.U, 0.25)
	}
}

// Hysteresis and creep of the calibration bound the error of the load, 4 % of 400 N,
// which gives 16/√3 (JCGM 100:2008, 4.3.7). They do not affect its position.
func TestMemoryOfTheStrip(t *testing.T) {
	side := on(device.Left)
	side.Strip.Calibration.Hysteresis, side.Strip.Calibration.CreepPerDecade = 0.04, 0.02
	m := meta(side)
	one := budgeted(t, m, shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil}))[0]
	load := one.Budget[measure.Load]
	assert.InEpsilon(t, 400*onHold*0.04/math.Sqrt(3), from(t, load, hold.Hysteresis).U, 1e-3)
	assert.InEpsilon(t, 400*onHold*0.02/math.Sqrt(3), from(t, load, hold.Creep).U, 1e-3)
	assert.Zero(t, from(t, one.Budget[measure.Over], hold.Hysteresis).U)
	bare := meta(on(device.Left))
	one = budgeted(t, bare, shoot(bare, [2][][]float64{standing(1, bed{force: 400}), nil}))[0]
	assert.Contains(t, from(t, one.Budget[measure.Load], hold.Creep).Basis, "not known")
}
