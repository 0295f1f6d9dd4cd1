package analyze_test

import (
	"context"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/crosstalk"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/plots/words"
)

// wired analyzes a simulated recording of one foot. tie describes how the strip's idle
// lines are connected (see crosstalk.New), said what its profile states about them, and
// broken its broken cells.
func wired(t *testing.T, tie float64, said device.Crosstalk, broken ...sim.Broken) *measure.Result {
	t.Helper()
	d := sim.DefaultDancer()
	d.Rises = 5
	side := on(device.Left)
	side.Shoe = &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
	strip := side.Strip
	strip.Crosstalk = said
	faults := sim.DefaultFaults()
	faults.Tie = tie
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
	r, err := analyze.File(context.Background(), path, analyze.Options{KeepBudget: true, AtProfile: true})
	require.NoError(t, err)
	return r
}

// A strip whose idle lines float, or are badly connected, measures the same as a sound
// one once its profile describes them, and differs without that description. The
// simulator solves the network forward; package crosstalk tests the inverse against nodal
// analysis.
func TestCrosstalkIsRemoved(t *testing.T) {
	sound := wired(t, 0, device.Crosstalk{})
	// off returns root mean square differences from the sound strip.
	off := func(r *measure.Result) (over, share, load float64) {
		require.Len(t, r.Releves, len(sound.Releves))
		for i, one := range r.Releves {
			want := sound.Releves[i].Hold
			require.NotNil(t, one.Hold)
			n := math.Sqrt(float64(len(r.Releves)))
			over = math.Hypot(over, (one.OverMM-want.OverMM)/n)
			share = math.Hypot(share, 100*(one.ContactShare-want.ContactShare)/n)
			load = math.Hypot(load, 100*(one.LoadN/want.LoadN-1)/n)
		}
		return over, share, load
	}
	t.Logf("%-22s | %s", "lines", "over mm, contact share points, load %: as read; profile known")
	for _, c := range []struct {
		name string
		tie  float64 // 1 ÷ counts
		said device.Crosstalk
	}{
		{"float", crosstalk.Floating, device.Crosstalk{TieOhm: math.Inf(1)}},
		{"tied by 100 kΩ", 1e-2, device.Crosstalk{TieOhm: 1e5, OneCountOhm: 1e7}},
		{"tied by 1 kΩ", 1e-4, device.Crosstalk{TieOhm: 1e3, OneCountOhm: 1e7}},
	} {
		o, s, l := off(wired(t, c.tie, device.Crosstalk{}))
		r := wired(t, c.tie, c.said)
		over, share, load := off(r)
		t.Logf("%-22s | %.3f %5.2f %6.1f; %.3f %5.2f %6.1f", c.name, o, s, l, over, share, load)
		assert.Greater(t, l, 2.0, c.name)
		assert.Less(t, over, 0.02, c.name)
		assert.Less(t, share, 1.0, c.name)
		assert.Less(t, load, 1.0, c.name)
		for _, one := range r.Releves {
			assert.NotContains(t, strings.Join(words.Warnings(one.Warnings), ""), "crosstalk")
		}
	}
}
