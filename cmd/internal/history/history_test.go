package history_test

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
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/scale"
	"aplomb/cmd/internal/history"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/recording"
)

// newLogbook returns a logbook in which D7 came on three days and rose twice on the left
// foot in each recording, with the given over, mm.
func newLogbook(t *testing.T, over ...float64) *logbook.Logbook {
	l, err := logbook.Open(filepath.Join(t.TempDir(), "book"))
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D7", Watched: "left"}))
	require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D8"}))
	strip, err := device.ReadStrip(t.Context(), "../../aplomb/testdata/profiles/left.toml")
	require.NoError(t, err)
	shoe, err := device.ReadShoe(t.Context(), "../../aplomb/testdata/profiles/A.toml")
	require.NoError(t, err)
	for i, mm := range over {
		began := time.Date(2026, 3, 2+7*i, 10, 0, 0, 0, time.UTC)
		v, err := l.AddVisit(logbook.Visit{Dancer: "D7", Day: logbook.DayOf(began), Baseline: i < 2})
		require.NoError(t, err)
		m := device.Metadata{Dancer: "D7", Visit: v.Name(), Started: began}
		m.Sides[device.Left] = &device.Side{Strip: strip, Shoe: shoe, Mounting: fmt.Sprint(i), Clock: "strip", Format: "binary"}
		path := filepath.Join(t.TempDir(), "a.mcap")
		w, err := recording.CreateDirect(path, m)
		require.NoError(t, err)
		require.NoError(t, w.Write(&device.Frame{Foot: device.Left, ArrivalNS: began.UnixNano(), Counts: make([]uint16, strip.Cells())}))
		require.NoError(t, w.Close())
		r, err := l.AddRecording(t.Context(), path, v.ID)
		require.NoError(t, err)
		result := &measure.Result{Provenance: provenance.New(software.Provenance(), analyze.Settings(software.Version))}
		for n := range 2 {
			result.Releves = append(result.Releves, measure.Releve{N: n + 1, Foot: device.Left, FeetUp: 1, Status: measure.Measured,
				Hold: &measure.Hold{OverMM: mm + 0.1*float64(n), Verdict: measure.OverTheBox}})
		}
		require.NoError(t, l.PutMeasures(r.ID, result))
	}
	return l
}

func TestFollow(t *testing.T) {
	l := newLogbook(t, -5, -5.2, -2)
	q := history.Query{Dancer: "d7", Symbol: "over_mm"}
	require.NoError(t, q.Check())
	h, err := q.Follow(l)
	require.NoError(t, err)
	assert.Equal(t, "D7", h.Entry.Code)
	require.Len(t, h.Series, 1)
	require.Len(t, h.Series[0].Points, 3)
	assert.InDelta(t, -1.95, h.Series[0].Points[2].Mean, 1e-9)
	assert.Empty(t, h.LeftOut)

	for _, q := range []history.Query{{Dancer: "D7", Symbol: "over_mm", Foot: "right"}, {Dancer: "D8", Symbol: "over_mm"}} {
		require.NoError(t, q.Check())
		_, err = q.Follow(l)
		assert.ErrorIs(t, err, logbook.ErrNotMeasured)
	}
	q.Dancer = "D9"
	_, err = q.Follow(l)
	assert.ErrorIs(t, err, logbook.ErrNotFound)
	for _, q := range []history.Query{{Symbol: "weight"}, {Symbol: "over_mm", Foot: "both"}} {
		assert.ErrorAs(t, q.Check(), &usage.Error{})
	}
}

func TestProgress(t *testing.T) {
	l := newLogbook(t, -5, -5.2, -2)
	v, err := l.AddVisit(logbook.Visit{Dancer: "D7", Day: "2026-04-01"})
	require.NoError(t, err)
	d, leftOut, err := history.Query{Dancer: "D7"}.Progress(l)
	require.NoError(t, err)
	assert.Empty(t, leftOut)
	assert.Equal(t, "left", d.Watched)
	assert.NotEmpty(t, d.FollowUps)
	assert.Len(t, d.Visits, 3, "in %s nothing was measured, and nobody asked for pain", v.Name())
	pain, twelve := 5, 12
	v.PainBefore, v.Note, v.SingleLeg[device.Left] = &pain, "after a rest", &twelve
	require.NoError(t, l.EditVisit(v))
	d, _, err = history.Query{Dancer: "D7"}.Progress(l)
	require.NoError(t, err)
	require.Len(t, d.Visits, 4)
	assert.Equal(t, "after a rest", d.Visits[3].Note)
	assert.Equal(t, 12, *d.Visits[3].SingleLeg.Left)
	assert.Equal(t, v.Stop(), d.Visits[3].Notice)
	q := history.Query{Dancer: "D7", Symbol: "over_mm"}
	require.NoError(t, q.Check())
	h, err := q.Follow(l)
	require.NoError(t, err)
	assert.Equal(t, v.Advice(), h.Stop)
	assert.Len(t, h.VisitRecords, 4)
}

// Stale measures are excluded, and the command that recomputes them is named.
func TestStaleMeasuresAreLeftOut(t *testing.T) {
	l := newLogbook(t, -5, -5.2, -2)
	old := &measure.Result{Provenance: provenance.New(measure.Software{Version: "0.0.9"}, measure.Settings{})}
	old.Provenance.Algorithm = "another"
	old.Releves = []measure.Releve{{N: 1, Foot: device.Left, FeetUp: 1, Status: measure.Measured, Hold: &measure.Hold{OverMM: 9}}}
	require.NoError(t, l.PutMeasures(2, old))
	q := history.Query{Dancer: "D7", Symbol: "over_mm"}
	require.NoError(t, q.Check())
	h, err := q.Follow(l)
	require.NoError(t, err)
	assert.Len(t, h.Series[0].Points, 2)
	assert.Equal(t, "left out, measured with another algorithm or before a correction: recording 2; aplomb logbook measure --dancer D7 measures again", strings.Join(h.LeftOut, "\n"))
}

// A strip whose load changed between the visits is named if the measure depends on it,
// also after series were removed. The strip of these recordings is that of their profile.
func TestScaleOfStrips(t *testing.T) {
	l := newLogbook(t, -5, -5.2, -2)
	strip, err := device.ReadStrip(t.Context(), "../../aplomb/testdata/profiles/left.toml")
	require.NoError(t, err)
	for day, bias := range map[int]float64{1: 0, 15: 0.04} {
		_, err := l.AddStripCheck(*strip, scale.Check{
			Day: time.Date(2026, 3, day, 0, 0, 0, 0, time.UTC), Pass: true, Presses: 5, Bias: bias, RMSLoad: math.Hypot(bias, 0.005),
			LimitLoad: 0.05, LimitCoPMM: 1,
		})
		require.NoError(t, err)
	}
	codes := func(symbol string) (all []measure.Code) {
		q := history.Query{Dancer: "D7", Symbol: symbol, Foot: "left"}
		require.NoError(t, q.Check())
		h, err := q.Follow(l)
		require.NoError(t, err)
		for _, w := range h.Warnings {
			all = append(all, w.Code)
		}
		return all
	}
	assert.Equal(t, []measure.Code{measure.CheckMoved}, codes("load_n"))
	assert.Empty(t, codes("over_mm"))
}

// A stop of one recording of a visit stays when a later recording has less pain.
func TestProgressOfRecordingsKeepsAStop(t *testing.T) {
	said := func(minute, pain int) *measure.Result {
		return &measure.Result{
			Meta: device.Metadata{Dancer: "D7", Started: time.Date(2026, 3, 1, 17, minute, 0, 0, time.UTC)}, Remark: &measure.Remark{Pain: &pain},
			Provenance: provenance.New(measure.Software{}, measure.Settings{}),
		}
	}
	d, err := history.ProgressOf([]*measure.Result{said(0, 1), said(10, 5), said(20, 2)})
	require.NoError(t, err)
	require.Len(t, d.Visits, 1)
	assert.Equal(t, 5, *d.Visits[0].PainAfter)
	assert.Equal(t, "Stop: pain is 5 of 10. (From 4 on, or an increase of 2: our own cautious default.)", d.Stop())
}
