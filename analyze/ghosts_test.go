package analyze_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/device"
	"aplomb/device/network"
)

// A strip whose idle lines float, or are badly tied, measures what a sound one
// does once its profile says so, and something else before. The simulator solves
// the network forward; what undoes it is held against node analysis in package
// network.
func TestGhostsAreTakenOut(t *testing.T) {
	sound := wired(t, 0, device.Ghosting{})
	// Root mean square differences from the sound strip.
	off := func(r *analyze.Result) (over, share, load float64) {
		require.Len(t, r.Releves, len(sound.Releves))
		for i, one := range r.Releves {
			want := sound.Releves[i].Measures
			require.NotNil(t, one.Measures)
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
		said device.Ghosting
	}{
		{"float", network.Floating, device.Ghosting{TieOhm: math.Inf(1)}},
		{"tied by 100 kΩ", 1e-2, device.Ghosting{TieOhm: 1e5, OneCountOhm: 1e7}},
		{"tied by 1 kΩ", 1e-4, device.Ghosting{TieOhm: 1e3, OneCountOhm: 1e7}},
	} {
		o, s, l := off(wired(t, c.tie, device.Ghosting{}))
		r := wired(t, c.tie, c.said)
		over, share, load := off(r)
		t.Logf("%-22s | %.3f %5.2f %6.1f; %.3f %5.2f %6.1f", c.name, o, s, l, over, share, load)
		assert.Greater(t, l, 2.0, c.name)
		assert.Less(t, over, 0.02, c.name)
		assert.Less(t, share, 1.0, c.name)
		assert.Less(t, load, 1.0, c.name)
		for _, one := range r.Releves {
			assert.NotContains(t, strings.Join(one.Warnings, ""), "ghost")
		}
	}
}
