package analyze_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
	"aplomb/plots/words"
)

// A dead cell is found and left out: the results agree, within their uncertainty, with
// those of the strip with that cell alive, and the warnings name it. A dead cell at a
// corner of the strip, which others do not enclose, makes results unreliable only where
// no model predicts its pressure.
func TestDeadCells(t *testing.T) {
	whole := broken(t)
	for name, how := range map[string]sim.Broken{
		"dead":  {Row: 1, Col: 3, How: sim.Dead},
		"stuck": {Row: 1, Col: 4, How: sim.Stuck, Value: 900},
	} {
		r := broken(t, how)
		require.Len(t, r.Releves, len(whole.Releves), name)
		found := false
		for _, w := range words.Warnings(r.Warnings) {
			found = found || assert.ObjectsAreEqual("left: a cell that does not measure is left out: "+
				sayCell(how)+" ("+name+"); repair or replace strip L-01", w)
		}
		assert.True(t, found, "%s: %v", name, r.Warnings)
		for i, one := range r.Releves {
			sound := whole.Releves[i]
			for what, d := range map[string][2]float64{
				"over":    {one.OverMM - sound.OverMM, math.Hypot(one.UOverMM, 0.05)},
				"medial":  {one.MedialMM - sound.MedialMM, math.Hypot(one.UMedialMM, 0.05)},
				"contact": {one.ContactShare - sound.ContactShare, math.Hypot(one.UContactShare, 0.01)},
				"load":    {one.LoadN - sound.LoadN, math.Hypot(one.ULoadN, 1)},
			} {
				assert.Less(t, math.Abs(d[0]), 3*d[1], "%s: %s of relevé %d", name, what, i+1)
			}
			assert.Greater(t, one.UOverMM, sound.UOverMM-1e-9, name)
			assert.Contains(t, words.Warnings(one.Warnings), "a cell without a reading, filled from the others, which adds to the uncertainties: "+sayCell(how)+" ("+name+")")
		}
	}
}

func sayCell(b sim.Broken) string {
	return [...]string{"row 1", "row 2"}[b.Row] + ", column " + string(rune('1'+b.Col))
}

// broken analyzes a simulated recording on a strip at its profile's seat, with some
// broken cells.
func broken(t *testing.T, cells ...sim.Broken) *measure.Result {
	side := on(device.Left)
	side.Strip.Name = "L-01"
	side.Strip.Mount.SeatSDMM = 0
	dancer := sim.DefaultDancer()
	dancer.Rises = 5
	m := meta(side)
	setup := sim.Setup{Seed: 3, Start: m.Started, RateHz: rate, Dancer: dancer, Faults: sim.Faults{Zero: 100, ZeroSD: 20, Noise: 2}}
	setup.Feet[device.Left] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: platform.Point{1, -4}, ScatterSD: 0.5}, Broken: cells}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	var frames []device.Frame
	for {
		var f device.Frame
		err := session.Next(&f)
		if errors.Is(err, io.EOF) {
			return analyzed(t, m, frames)
		}
		require.NoError(t, err)
		frames = append(frames, f)
	}
}

// A recording with a dead or stuck cell gives the results of the intact strip within the
// uncertainty that it states for that cell, and names it.
func TestRecordingWithoutSomeCells(t *testing.T) {
	sound := wired(t, 0, device.Crosstalk{})
	require.Len(t, sound.Releves, 5)
	for _, one := range sound.Releves {
		assert.Zero(t, effect(one, hold.CellsFilled, measure.Over))
	}
	for _, c := range []struct {
		name   string
		broken []sim.Broken
		said   []string
	}{
		{"dead", []sim.Broken{{Row: 1, Col: 3}}, []string{"row 2, column 4 (dead)"}},
		{"stuck", []sim.Broken{{Row: 2, Col: 5, How: sim.Stuck, Value: 900}}, []string{"row 3, column 6 (stuck)"}},
		{"stuck at the end of its range", []sim.Broken{{Row: 1, Col: 2, How: sim.Stuck, Value: 4095}}, []string{"row 2, column 3 (stuck)"}},
		{"two", []sim.Broken{{Row: 2, Col: 3}, {Row: 1, Col: 5, How: sim.Stuck, Value: 30}}, []string{"row 3, column 4 (dead)", "row 2, column 6 (stuck)"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := wired(t, 0, device.Crosstalk{}, c.broken...)
			require.Len(t, r.Releves, len(sound.Releves))
			for _, cell := range c.said {
				assert.Contains(t, strings.Join(words.Warnings(r.Warnings), "\n"), cell)
			}
			for i, one := range r.Releves {
				want, what := sound.Releves[i].Hold, fmt.Sprintf("relevé %d", i+1)
				require.NotNil(t, one.Hold, what)
				assert.NotContains(t, strings.Join(words.Warnings(one.Warnings), "\n"), "end of their range")
				assert.Contains(t, strings.Join(words.Warnings(one.Warnings), "\n"), "filled from the others")
				for _, m := range []struct {
					name           measure.Measure
					got, whole, at float64 // at: tolerance, at least
				}{
					{measure.Over, one.OverMM, want.OverMM, 0.03},
					{measure.Medial, one.MedialMM, want.MedialMM, 0.03},
					{measure.ContactShare, one.ContactShare, want.ContactShare, 0.01},
					{measure.Load, one.LoadN, want.LoadN, 1.5},
				} {
					if m.name != measure.ContactShare { // contact share may be 1 without the cell as well
						assert.Positive(t, effect(one, hold.CellsFilled, m.name), m.name)
					}
					assert.InDelta(t, m.whole, m.got, max(m.at, 3*effect(one, hold.CellsFilled, m.name)), "%s, %s: u %.3g", what, m.name, effect(one, hold.CellsFilled, m.name))
				}
				assert.InEpsilon(t, want.Sway.SDOverMM, one.Sway.SDOverMM, 0.15, "%s: sway is not bent", what)
				assert.False(t, math.IsNaN(one.UOverMM))
			}
		})
	}
}
