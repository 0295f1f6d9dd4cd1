package baseline

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// The zero between two zeros is interpolated linearly, and beyond the ends it is that of
// the end.
func TestInterpolate(t *testing.T) {
	zeros := []Zero{{T: 1, Level: []float64{10, 0}}, {T: 3, Level: []float64{20, -4}}}
	level := make([]float64, 2)
	for at, want := range map[float64][]float64{0: {10, 0}, 1: {10, 0}, 1.5: {12.5, -1}, 3: {20, -4}, 9: {20, -4}} {
		Interpolate(level, zeros, at)
		assert.InDeltaSlice(t, want, level, 1e-12, "at %v s", at)
	}
}

// frames passes to a Tracker and its History frames of one cell at 100 Hz, one count a
// newton, and returns the tracker's shifts.
func frames(tr *Tracker, counts func(t float64) float64, seconds float64) (shifts []float64) {
	end := 0.0
	for i := range int(seconds * 100) {
		at := float64(i) / 100
		c := []uint16{uint16(math.Round(counts(at)))}
		tr.Begin(at)
		if s := tr.Observe(at, c, float64(c[0])-tr.Level()[0]); s != nil {
			shifts = append(shifts, s[0])
		}
		end = at
	}
	if s := tr.Finish(end); s != nil {
		shifts = append(shifts, s[0])
	}
	return shifts
}

// The tracker follows a slow drift of the zero while the strip is unloaded, and a load
// does not change the zero.
func TestTrackerFollowsDriftAndNotLoad(t *testing.T) {
	h := NewHistory([]float64{1}, nil, nil)
	tr := NewTracker(1, nil, nil, h)
	load := func(at float64) float64 {
		if at > 5 && at < 8 {
			return 300 + 10*math.Sin(20*at)
		}
		return 0
	}
	frames(tr, func(at float64) float64 { return 50 + 2*at + load(at) }, 12)
	found, late := tr.Found()
	assert.True(t, found)
	assert.False(t, late)
	assert.InDelta(t, 50+2*12, tr.Level()[0], 2)
	r := h.Revise()
	assert.True(t, r.FromStart)
	assert.True(t, r.FarFromUse, "6 N of drift over the load")
	level := []float64{0}
	for _, at := range []float64{2, 6.5, 11} {
		Interpolate(level, r.Zeros, at)
		assert.InDelta(t, 50+2*at, level[0], 1.5, "at %v s", at)
	}
}

// A recording that begins under load gets its zero after the load has gone, and its
// earlier frames are corrected by it.
func TestTrackerBeginsUnderLoad(t *testing.T) {
	tr := NewTracker(1, nil, nil, NewHistory([]float64{1}, nil, nil))
	shifts := frames(tr, func(at float64) float64 {
		if at < 3 {
			return 400 + 20*math.Sin(20*at)
		}
		return 40
	}, 6)
	found, late := tr.Found()
	assert.True(t, found && late)
	assert.Equal(t, []float64{40}, shifts)
}

// With known zeros the tracker interpolates between them and reports no shift.
func TestTrackerWithKnownZeros(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, to := rapid.Float64Range(0, 200).Draw(t, "from"), rapid.Float64Range(0, 200).Draw(t, "to")
		known := []Zero{{T: 0, Level: []float64{from}}, {T: 4, Level: []float64{to}}}
		tr := NewTracker(1, nil, known, nil)
		shifts := frames(tr, func(at float64) float64 { return from + (to-from)*at/4 }, 4)
		assert.Empty(t, shifts)
		assert.InDelta(t, to, tr.Level()[0], 1+0.2*math.Abs(to-from)/4)
	})
}
