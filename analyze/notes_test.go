package analyze_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// A note belongs to the last relevé that had begun, discarded or not, and remarks made
// after the recording are in its result. Neither changes a number.
func TestNotesAndRemark(t *testing.T) {
	const period = pause + 2*up + held
	m := meta(on(device.Left), on(device.Right))
	frames := shoot(m, [2][][]float64{standing(3, bed{force: 270}), standing(3, bed{force: 330})})
	plain := marked(t, m, frames)
	path := filepath.Join(t.TempDir(), "noted.mcap")
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	for i := range frames {
		require.NoError(t, w.Write(&frames[i]))
	}
	for _, e := range []struct {
		at   float64
		kind device.EventKind
		text string
	}{{2*period + 0.1, device.Note, "sinks"}, {0.1, device.Note, "shoes on"}, {pause + up + 0.2, device.Note, "sickles"}, {2*period + 0.2, device.Discard, ""}, {2*period + 0.3, device.Note, "slipped"}} {
		require.NoError(t, w.WriteEvent(device.Event{TimeNS: frames[0].ArrivalNS + int64(1e9*e.at), Foot: device.NoFoot, Kind: e.kind, Text: e.text}))
	}
	require.NoError(t, w.Close())
	three := 3
	said := correction.Remark{Saw: []string{"heel loose"}, Comfort: 2, Pain: &three, Decision: correction.Use}
	beside, err := recording.PrepareCorrection(t.Context(), path, "", correction.Entry{At: time.Date(2026, 3, 14, 11, 0, 0, 0, time.UTC), Remark: &said})
	require.NoError(t, err)
	require.NoError(t, beside.Write())

	r, err := analyze.File(t.Context(), path, analyze.Options{})
	require.NoError(t, err)
	var texts []string
	for _, n := range r.Notes {
		texts = append(texts, n.Text)
	}
	require.Equal(t, []string{"shoes on", "sickles", "sinks", "slipped"}, texts, "by time")
	assert.Equal(t, measure.Note{TimeS: r.Notes[0].TimeS, Text: "shoes on"}, r.Notes[0])
	assert.InDelta(t, 0.1, r.Notes[0].TimeS, 0.02)
	assert.Equal(t, [2]any{1, true}, [2]any{r.Notes[1].Releve, r.Notes[1].During})
	assert.Equal(t, [2]any{2, false}, [2]any{r.Notes[2].Releve, r.Notes[2].During})
	alone, err := analyze.Notes(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, r.Notes, alone)
	for i, one := range r.Releves {
		assert.Equal(t, map[int][]string{1: {"sickles"}, 2: {"sinks", "slipped"}}[one.N], one.Notes)
		assert.Equal(t, plain.Releves[i].OverMM, one.OverMM)
	}
	require.NotNil(t, r.Remark)
	assert.Equal(t, said, *r.Remark)

	r.Visit = &measure.Visit{Name: "2026-03-14", Choice: "A"}
	c, err := compare.Results([]*measure.Result{r}, compare.Options{})
	require.NoError(t, err)
	require.Len(t, c.Observations, 1)
	assert.Equal(t, r.Notes, c.Observations[0].Notes)
	assert.Equal(t, r.Remark, c.Observations[0].Remark)
	assert.Equal(t, []measure.Visit{*r.Visit}, c.VisitRecords)
	c, err = compare.Results([]*measure.Result{plain}, compare.Options{})
	require.NoError(t, err)
	assert.Empty(t, c.Observations)
	assert.Empty(t, c.VisitRecords)
}
