package analyze_test

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

// marked analyzes a recording with discard events at those times, s.
func marked(t *testing.T, m device.Metadata, frames []device.Frame, at ...float64) *measure.Result {
	path := filepath.Join(t.TempDir(), "marked.mcap")
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	for i := range frames {
		require.NoError(t, w.Write(&frames[i]))
	}
	for _, s := range at {
		e := device.Event{TimeNS: frames[0].ArrivalNS + int64(1e9*s), Foot: device.NoFoot, Kind: device.Discard}
		if s < 0 {
			e.TimeNS, e.Cause = frames[0].ArrivalNS+int64(-1e9*s), device.TakenBack
		}
		require.NoError(t, w.WriteEvent(e))
	}
	require.NoError(t, w.Close())
	r, err := analyze.File(context.Background(), path, analyze.Options{})
	require.NoError(t, err)
	return r
}

func discarded(r *measure.Result) (n []int) {
	for _, one := range r.Releves {
		if one.Discarded {
			n = append(n, one.N)
		}
	}
	return n
}

// Both feet of the last relevé that had ended are left out, and nothing else changes.
func TestDiscard(t *testing.T) {
	const period = pause + 2*up + held
	m := meta(on(device.Left), on(device.Right))
	frames := shoot(m, [2][][]float64{standing(4, bed{force: 270}), standing(4, bed{force: 330})})
	plain := marked(t, m, frames)
	assert.Empty(t, discarded(plain))
	assert.Empty(t, words.Warnings(plain.Warnings))
	for _, c := range []struct {
		name string
		at   []float64
		want []int
		warn string
	}{
		{"before any", []float64{pause + up}, nil, ""},
		{"during the second", []float64{period + pause + up}, []int{1, 1}, "relevé 1"},
		{"just after the second", []float64{2*period + 0.05}, []int{2, 2}, "relevé 2"},
		{"twice after the third", []float64{3*period + 0.1, 3*period + 0.2}, []int{2, 2, 3, 3}, "relevés 2, 3"},
		{"and taken back", []float64{3*period + 0.1, 3*period + 0.2, -(3*period + 0.3)}, []int{3, 3}, "relevé 3"},
		{"taken back and again", []float64{period + 0.1, -(period + 0.2), period + 0.3}, []int{1, 1}, "relevé 1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := marked(t, m, frames, c.at...)
			assert.Equal(t, c.want, discarded(r))
			if c.warn == "" {
				assert.Empty(t, words.Warnings(r.Warnings))
			} else {
				assert.Equal(t, []string{"discarded while recording, and not counted: " + c.warn}, words.Warnings(r.Warnings))
			}
			require.Len(t, r.Releves, len(plain.Releves))
			for i := range r.Releves {
				assert.Equal(t, plain.Releves[i].Status, r.Releves[i].Status)
				assert.InDelta(t, plain.Releves[i].OverMM, r.Releves[i].OverMM, 1e-6)
				assert.Equal(t, !r.Releves[i].Discarded, r.Releves[i].Counts())
			}
		})
	}
}

func TestDiscardedInJSON(t *testing.T) {
	m := meta(on(device.Left))
	frames := shoot(m, [2][][]float64{standing(2, bed{force: 300}), nil})
	releves := asJSON(t, marked(t, m, frames, 100))["releves"].([]any)
	assert.NotContains(t, releves[0], "discarded")
	assert.Equal(t, true, releves[1].(map[string]any)["discarded"])
	assert.Equal(t, "measured", releves[1].(map[string]any)["status"])
}

// A comparison leaves discarded relevés out, and fails where no others exist.
func TestComparedWithoutTheDiscarded(t *testing.T) {
	m := meta(on(device.Left))
	frames := shoot(m, [2][][]float64{append(standing(2, bed{force: 300}), standing(1, bed{force: 300, e: 3})...), nil})
	c, err := compare.Results([]*measure.Result{marked(t, m, frames, 100)}, compare.Options{})
	require.NoError(t, err)
	require.Len(t, c.Shoes, 1)
	assert.Equal(t, 2, c.Shoes[0].N)
	assert.InDelta(t, 0, c.Shoes[0].Measures[measure.Over].Mean, 0.05)
	for _, w := range words.Warnings(c.Warnings) {
		assert.NotContains(t, w, "aborted")
	}
}
