package analyze_test

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/budget"
	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// on returns a strip under a rectangular platform somewhat smaller than the strip.
func on(foot device.Foot) *device.Side {
	return &device.Side{Strip: strip(foot), Shoe: rectangle("A", 36, 22), Mounting: "m1", Clock: "strip"}
}

// standing returns the reading of every cell for each of n equal relevés.
func standing(n int, b bed) [][]float64 {
	b.width, b.depth = 36, 22
	return slices.Repeat([][]float64{b.cells(strip(device.Left))}, n)
}

func of(r *measure.Result, n int, foot device.Foot) measure.Releve {
	for _, one := range r.Releves {
		if one.N == n && one.Foot == foot {
			return one
		}
	}
	return measure.Releve{}
}

// only returns the frames for which keep returns true.
func only(frames []device.Frame, keep func(f *device.Frame) bool) []device.Frame {
	return slices.DeleteFunc(slices.Clone(frames), func(f device.Frame) bool { return !keep(&f) })
}

// seconds returns the time at which a frame of shoot was read.
func seconds(f *device.Frame) float64 { return float64(f.Seq) / rate }

// The right foot rises once more than the left, and one of its relevés is aborted.
func TestRelevesOfTwoFeet(t *testing.T) {
	m := meta(on(device.Left), on(device.Right))
	frames := shoot(m, [2][][]float64{standing(2, bed{force: 270, e: 2}), standing(3, bed{force: 330, e: -1})})
	const second = pause + 2*up + held + pause // onset
	for i := range frames {
		if at := seconds(&frames[i]); frames[i].Foot == device.Right && at > second+up+0.2 && at < second+2*up+held {
			clear(frames[i].Counts)
		}
	}
	r := analyzed(t, m, frames)

	type row struct {
		n, up  int
		foot   device.Foot
		status measure.Status
	}
	var rows []row
	for _, one := range r.Releves {
		rows = append(rows, row{one.N, one.FeetUp, one.Foot, one.Status})
	}
	assert.Equal(t, []row{
		{1, 2, device.Left, measure.Measured}, {1, 2, device.Right, measure.Measured},
		{2, 2, device.Left, measure.Measured}, {2, 2, device.Right, measure.Aborted},
		{3, 1, device.Right, measure.Measured},
	}, rows)
	for _, foot := range device.Feet {
		require.NotNil(t, of(r, 1, foot).LoadShare)
		assert.InDelta(t, 0.45, *of(r, 1, foot).LoadShare, 1e-4, "270 of 600 N")
	}
	assert.Nil(t, of(r, 2, device.Left).LoadShare, "the other foot never held")
	assert.Nil(t, of(r, 2, device.Right).Hold)
	assert.Nil(t, of(r, 3, device.Right).LoadShare, "on one foot")
	assert.InDelta(t, 270*onHold, of(r, 2, device.Left).LoadN, 0.3)
	assert.InDelta(t, 330*onHold, of(r, 3, device.Right).LoadN, 0.3)
	assert.InDelta(t, -1, of(r, 3, device.Right).OverMM, 0.03)
	assert.Empty(t, words.Warnings(r.Warnings))
}

// Strips whose clocks start at different moments and run at different speeds give the
// same pairs of relevés.
func TestFeetOnDifferentClocks(t *testing.T) {
	m := meta(on(device.Left), on(device.Right))
	frames := shoot(m, [2][][]float64{standing(4, bed{force: 270}), standing(4, bed{force: 330})})
	frames = only(frames, func(f *device.Frame) bool { return f.Foot == device.Left || seconds(f) > 0.4 }) // begins late
	for i := range frames {
		if f := &frames[i]; f.Foot == device.Right {
			f.TimeUS = 1<<40 + uint64(float64(f.TimeUS)*1.0002)
		} else {
			f.TimeUS = uint64(float64(f.TimeUS) * 0.9999)
		}
	}
	r := analyzed(t, m, frames)
	require.Len(t, r.Releves, 8)
	for i, one := range r.Releves {
		n := i / 2
		onset := pause + float64(n)*(2*up+held+pause) + 0.1*up // a tenth of the load
		assert.Equal(t, n+1, one.N)
		assert.Equal(t, 2, one.FeetUp)
		assert.InDelta(t, onset, one.StartS, 0.005)
		assert.InDelta(t, held+2*edge, one.HoldS, 0.01)
		assert.InDelta(t, 0.45, *one.LoadShare, 1e-4)
	}
	assert.InDelta(t, rate, r.Recording.Feet.Left.RateHz, 0.01)
	assert.InDelta(t, rate, r.Recording.Feet.Right.RateHz, 0.01)
}

// The mirrored pressure on the other foot gives the same numbers, where medial is
// mirrored too.
func TestFeetAreMirrored(t *testing.T) {
	m := meta(on(device.Left), on(device.Right))
	mirrored := m.Sides[device.Right].Strip
	mirrored.FirstCell = "back-medial"
	p := bed{400, 36, 22, -4.5}.cells(m.Sides[device.Left].Strip)
	q := make([]float64, len(p))
	for k := range p {
		row, col := m.Sides[device.Left].Strip.RowCol(k)
		p[k] *= 1 + 0.08*(float64(col)-3.5) // towards the big toe
		q[row*8+7-col] = p[k]
	}
	r := analyzed(t, m, shoot(m, [2][][]float64{{p, p}, {q, q}}))
	require.Len(t, r.Releves, 4)
	for n := 1; n <= 2; n++ {
		left, right := of(r, n, device.Left), of(r, n, device.Right)
		assert.Greater(t, left.MedialMM, 1.0, "towards the big toe")
		for _, m := range measure.All() {
			a, okA := left.Value(m)
			b, okB := right.Value(m)
			assert.Equal(t, okA, okB, m)
			assert.InDelta(t, a, b, 1e-6*(1+math.Abs(a)), m)
		}
		assert.InDeltaSlice(t, left.PeakAt[:], right.PeakAt[:], 1e-9)
		assert.Equal(t, left.Verdict, right.Verdict)
		assert.InEpsilon(t, effect(left, hold.Seat, measure.Over), effect(right, hold.Seat, measure.Over), 1e-6)
	}
}

func TestOneFootSilent(t *testing.T) {
	m := meta(on(device.Left), on(device.Right))
	frames := shoot(m, [2][][]float64{standing(2, bed{force: 300}), nil})
	r := analyzed(t, m, only(frames, func(f *device.Frame) bool { return f.Foot == device.Left }))
	assert.Equal(t, []string{"right: no frame arrived from strip R-01"}, words.Warnings(r.Warnings))
	require.Len(t, r.Releves, 2)
	for _, one := range r.Releves {
		assert.Equal(t, 1, one.FeetUp)
		assert.Nil(t, one.LoadShare)
	}
	assert.Nil(t, r.Recording.Feet.Right)
}

func TestNothingRecorded(t *testing.T) {
	path := filepath.Join(t.TempDir(), "empty.mcap")
	write(t, path, meta(on(device.Left)), nil)
	_, err := analyze.File(context.Background(), path, analyze.Options{})
	assert.EqualError(t, err, fmt.Sprintf("%s: no frame in it: nothing to analyze; record again", path))
}

// A recording begins under a light load that the strip's offsets hide. Once the zero is
// found the load is sometimes above the floor and its mean map below it: the relevé then
// has no centre of pressure, rather than one of 0.
func TestMeanBelowTheFloor(t *testing.T) {
	m := meta(on(device.Left))
	s := m.Sides[device.Left].Strip
	frames := shoot(m, [2][][]float64{standing(1, bed{}), nil})
	for i := range frames {
		force := 0.0
		switch at := seconds(&frames[i]); {
		case at < 2 && math.Mod(at, 0.2) < 0.12:
			force = 26
		case at < 2:
			force = 22.5
		}
		for k, p := range (bed{force, 36, 22, 3}).cells(s) {
			frames[i].Counts[k] = uint16(math.Round(p/s.Calibration.KPaPerCount)) + 900 // 90 N on all
		}
	}
	r := analyzed(t, m, frames)
	assert.Equal(t, []string{"left: the recording begins under load: its zero is taken from a later time"}, words.Warnings(r.Warnings))
	require.Len(t, r.Releves, 1)
	assert.Nil(t, r.Releves[0].Hold)
}

// effect returns the standard uncertainty that a source gives a measure of a hold.
func effect(one any, s measure.Source, m measure.Measure) float64 {
	h, ok := one.(*measure.Hold)
	if r, is := one.(measure.Releve); is {
		h, ok = r.Hold, true
	}
	if !ok || h.Effect(s) == nil {
		return 0
	}
	return budget.OfEffect(h.Effect(s), m).U
}
