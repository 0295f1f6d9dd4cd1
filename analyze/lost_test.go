package analyze_test

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// danced analyzes a simulated recording of one foot in which cells are broken.
func danced(t *testing.T, broken ...sim.Broken) *analyze.Result {
	t.Helper()
	return wired(t, 0, device.Ghosting{}, broken...)
}

// wired is the same with idle lines tied as tie says (see network.New) and as
// the profile says.
func wired(t *testing.T, tie float64, said device.Ghosting, broken ...sim.Broken) *analyze.Result {
	t.Helper()
	d := sim.DefaultDancer()
	d.Rises = 5
	side := on(device.Left)
	side.Shoe = &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
	strip := side.Strip
	strip.Ghosting = said
	faults := sim.DefaultFaults()
	faults.Ghost, faults.Tie = 0, tie
	strip.Calibration.KPaPerCount, strip.SaturatesAt, strip.ADCBits = 0.75, 4095, 12
	s, err := sim.NewSession(sim.Setup{
		Seed: 7, Start: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), RateHz: 200, Mounting: "1",
		Dancer: d, Faults: faults,
		Feet: [2]*sim.Foot{{
			Strip: strip, Shoe: side.Shoe,
			Stand: sim.Stand{CoPMM: platform.Point{-1, -2}, ScatterSD: 0.4}, Broken: broken,
		}},
	})
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "danced.mcap")
	w, err := recording.CreateDirect(path, meta(side))
	require.NoError(t, err)
	var f device.Frame
	for s.Next(&f) == nil {
		require.NoError(t, w.Write(&f))
	}
	require.NoError(t, w.Close())
	r, err := analyze.File(path, analyze.Options{KeepBudget: true})
	require.NoError(t, err)
	return r
}

// A recording whose strip has a dead or a stuck cell says what it would have
// said with the cell whole, within the uncertainty that it states for want of
// it, and names the cell.
func TestRecordingWithoutSomeCells(t *testing.T) {
	sound := danced(t)
	require.Len(t, sound.Releves, 5)
	for _, one := range sound.Releves {
		assert.Empty(t, one.Fill)
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
			r := danced(t, c.broken...)
			require.Len(t, r.Releves, len(sound.Releves))
			for _, cell := range c.said {
				assert.Contains(t, strings.Join(r.Warnings, "\n"), cell)
			}
			for i, one := range r.Releves {
				want, what := sound.Releves[i].Measures, fmt.Sprintf("relevé %d", i+1)
				require.NotNil(t, one.Measures, what)
				assert.NotContains(t, strings.Join(one.Warnings, "\n"), "end of their range")
				assert.Contains(t, strings.Join(one.Warnings, "\n"), "filled from the others")
				for _, m := range []struct {
					name           string
					got, whole, at float64 // at: no better than this is asked for
				}{
					{"over_mm", one.OverMM, want.OverMM, 0.03},
					{"medial_mm", one.MedialMM, want.MedialMM, 0.03},
					{"contact_share", one.ContactShare, want.ContactShare, 0.01},
					{"load_n", one.LoadN, want.LoadN, 1.5},
				} {
					if m.name != "contact_share" { // which may be 1, whatever is missing
						assert.Positive(t, one.Fill[m.name], m.name)
					}
					assert.InDelta(t, m.whole, m.got, max(m.at, 3*one.Fill[m.name]), "%s, %s: u %.3g", what, m.name, one.Fill[m.name])
				}
				assert.InEpsilon(t, want.Sway.SDOverMM, one.Sway.SDOverMM, 0.15, "%s: sway is not bent", what)
				assert.False(t, math.IsNaN(one.UOverMM))
			}
		})
	}
}
