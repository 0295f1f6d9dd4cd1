package logbook

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
)

func TestShoeChangesInPlaceUntilItIsRecorded(t *testing.T) {
	l := begin(t)
	first := shoe("A")
	require.NoError(t, l.AddShoe(Shoe{Shoe: first}))
	oneLine(t, l.AddShoe(Shoe{Shoe: shoe("a")}), ErrExists)
	first.CrownMM = 24
	require.NoError(t, l.EditShoe(Shoe{Shoe: first}))
	all, err := l.ShoeVersions("A")
	require.NoError(t, err)
	assert.Equal(t, []Shoe{{Shoe: first, Version: 1, Current: true}}, all)

	v := visit(t, l, "D7")
	kept := keep(t, l, v, about("D7", "", first))
	worn := first
	worn.HoursWorn = 6
	require.NoError(t, l.EditShoe(Shoe{Shoe: worn, Owner: "d7"}))
	all, err = l.ShoeVersions("A")
	require.NoError(t, err)
	assert.Equal(t, []Shoe{
		{Shoe: first, Owner: "D7", Version: 1, Used: true},
		{Shoe: worn, Owner: "D7", Version: 2, Current: true},
	}, all)
	kept, err = l.Recording(kept.ID)
	require.NoError(t, err)
	assert.Equal(t, 1, kept.Feet[device.Left].ShoeVersion, "a recording keeps what was true")

	// Back to what it was is the version it was, not a third.
	require.NoError(t, l.EditShoe(Shoe{Shoe: first}))
	now, err := l.Shoe("A")
	require.NoError(t, err)
	assert.Equal(t, Shoe{Shoe: first, Version: 1, Current: true, Used: true}, now)
	shoes, err := l.Shoes()
	require.NoError(t, err)
	assert.Equal(t, []Shoe{now}, shoes)

	oneLine(t, l.RemoveShoe("A"), ErrInUse, `"A"`)
	require.NoError(t, l.RemoveRecording(kept.ID))
	require.NoError(t, l.RemoveShoe("A"))
	oneLine(t, l.RemoveShoe("A"), ErrNotFound)
	oneLine(t, l.EditShoe(Shoe{Shoe: first}), ErrNotFound)
	oneLine(t, l.AddShoe(Shoe{Shoe: first, Owner: "nobody"}), ErrNotFound)
	oneLine(t, l.AddShoe(Shoe{Shoe: device.Shoe{Code: "B"}}), ErrInvalid, "platform_mm")
}

func TestStripKeepsEveryCalibration(t *testing.T) {
	l := begin(t)
	s := strip(device.Left)
	require.NoError(t, l.AddStrip(*s))
	oneLine(t, l.AddStrip(*s), ErrExists)
	keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	recalibrated := *s
	recalibrated.Calibration.KPaPerCount = 0.8
	require.NoError(t, l.EditStrip(recalibrated))
	now, err := l.Strip("l-01")
	require.NoError(t, err)
	assert.Equal(t, Strip{Strip: recalibrated, Version: 2, Current: true}, now)
	all, err := l.StripVersions("L-01")
	require.NoError(t, err)
	assert.Equal(t, Strip{Strip: *s, Version: 1, Used: true}, all[0])
	both, err := l.Strips()
	require.NoError(t, err)
	assert.Equal(t, []string{"L-01", "R-01"}, []string{both[0].Name, both[1].Name}, "the right strip was learned from the recording")
	oneLine(t, l.RemoveStrip("L-01"), ErrInUse)
	oneLine(t, l.EditStrip(device.Strip{Name: "L-01"}), ErrInvalid)
	oneLine(t, l.RemoveStrip("X"), ErrNotFound)
}

// What somebody entered stays current, whatever older recordings tell.
func TestRecordingTellsOfShoes(t *testing.T) {
	l := begin(t)
	entered := shoe("A")
	entered.HoursWorn = 9
	require.NoError(t, l.AddShoe(Shoe{Shoe: entered}))
	v := visit(t, l, "D7")
	keep(t, l, v, about("D7", "", shoe("A")))
	now, err := l.Shoe("A")
	require.NoError(t, err)
	assert.Equal(t, Shoe{Shoe: entered, Version: 1, Current: true}, now)

	older, newer := shoe("B"), shoe("B")
	newer.HoursWorn = 2
	keep(t, l, v, about("D7", "", older))
	r := keep(t, l, v, about("D7", "", newer))
	now, err = l.Shoe("B")
	require.NoError(t, err)
	assert.Equal(t, Shoe{Shoe: newer, Version: 2, Current: true, Used: true}, now)
	require.NoError(t, l.RemoveRecording(r.ID))
	all, err := l.ShoeVersions("B")
	require.NoError(t, err)
	assert.Equal(t, []Shoe{{Shoe: older, Version: 1, Current: true, Used: true}}, all)
}

// What a recording told of and somebody then entered outlasts the recording.
func TestLearnedShoeCanBeEntered(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("A")}))
	worn := shoe("A")
	worn.HoursWorn = 3
	r := keep(t, l, visit(t, l, "D7"), about("D7", "", worn))
	require.NoError(t, l.EditShoe(Shoe{Shoe: worn}))
	require.NoError(t, l.RemoveRecording(r.ID))
	now, err := l.Shoe("A")
	require.NoError(t, err)
	assert.Equal(t, Shoe{Shoe: worn, Version: 2, Current: true}, now)
}

func TestRecordingKnowsWhatItsFileSays(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	r := keep(t, l, v, about("d7", "2026-03-14", shoe("A")))
	foot := func(strip string) *RecordedFoot {
		return &RecordedFoot{Shoe: "A", ShoeVersion: 1, Strip: strip, StripVersion: 1, Mounting: "mounted at noon"}
	}
	sum, size, err := sha256Of(r.Path)
	require.NoError(t, err)
	assert.Equal(t, Recording{
		ID: r.ID, Path: r.Path, SHA256: sum, Size: size, Dancer: "D7", VisitID: v.ID, VisitName: "2026-03-14", Day: "2026-03-14", Started: started,
		Software: "aplomb test", Support: "barre", Rise: "roll-up", Position: "first", Floor: "vinyl", MassKG: 55,
		Feet: [2]*RecordedFoot{foot("L-01"), foot("R-01")},
	}, r)
}

func TestRecordingFromElsewhereIsCopied(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	from := record(t, filepath.Join(t.TempDir(), "a 1.mcap"), about("D7", "", shoe("A")))
	r, err := l.AddRecording(from, v.ID)
	require.NoError(t, err)
	assert.FileExists(t, from)
	a, err := os.ReadFile(from)
	require.NoError(t, err)
	b, err := os.ReadFile(r.Path)
	require.NoError(t, err)
	assert.Equal(t, a, b)
	_, err = l.AddRecording(from, v.ID)
	oneLine(t, err, ErrExists, from, "as recording 1")
	_, err = l.AddRecording(r.Path, v.ID)
	oneLine(t, err, ErrExists)
	assert.Len(t, files(t, filepath.Join(l.Dir(), recordings)), 1)
}

func TestRecordingGoesIntoNoOtherVisit(t *testing.T) {
	l := begin(t)
	v, other := visit(t, l, "D7"), visit(t, l, "D8")
	dir := t.TempDir()
	path := record(t, filepath.Join(dir, "1.mcap"), about("D7", "2026-03-14", shoe("A")))
	_, err := l.AddRecording(path, other.ID)
	oneLine(t, err, ErrInvalid, path, `"D8"`)
	second := visit(t, l, "D7")
	_, err = l.AddRecording(path, second.ID)
	oneLine(t, err, ErrInvalid, path, "2026-03-14-2")
	_, err = l.AddRecording(path, 99)
	oneLine(t, err, ErrNotFound)
	_, err = l.AddRecording(filepath.Join(dir, "none.mcap"), v.ID)
	assert.ErrorContains(t, err, "none.mcap")
	junk := filepath.Join(dir, "junk.mcap")
	require.NoError(t, os.WriteFile(junk, []byte("nothing"), 0o600))
	_, err = l.AddRecording(junk, v.ID)
	assert.ErrorContains(t, err, "not a recording")
	assert.Empty(t, files(t, filepath.Join(l.Dir(), recordings)))
	_, err = l.AddRecording(record(t, filepath.Join(dir, "2.mcap"), about("", "", shoe("A"))), v.ID)
	assert.NoError(t, err, "a recording that names nobody is whose the visit is")
}

func TestRecordingsAndMeasuresByFilter(t *testing.T) {
	l := begin(t)
	v7, v8 := visit(t, l, "D7"), visit(t, l, "D8")
	at := func(dancer, code string, minute int) *Recording {
		m, v := about(dancer, "", shoe(code)), v7
		if dancer == "D8" {
			v = v8
		}
		m.Started = started.Add(time.Duration(minute) * time.Minute)
		r := keep(t, l, v, m)
		return &r
	}
	late, early, other := at("D7", "A", 20), at("D7", "B", 10), at("D8", "A", 15)
	ids := func(f Filter) (ids []int64) {
		all, err := l.Recordings(f)
		require.NoError(t, err)
		for _, r := range all {
			ids = append(ids, r.ID)
		}
		return ids
	}
	assert.Equal(t, []int64{early.ID, other.ID, late.ID}, ids(Filter{}))
	assert.Equal(t, []int64{early.ID, late.ID}, ids(Filter{Dancer: "d7"}))
	assert.Equal(t, []int64{other.ID, late.ID}, ids(Filter{Shoe: "a"}))
	assert.Equal(t, []int64{late.ID}, ids(Filter{VisitID: v7.ID, Shoe: "A"}))
	assert.Empty(t, ids(Filter{Dancer: "D9"}))

	put := []Releve{
		{N: 1, Foot: device.Left, FeetUp: 2, StartS: 1.5, Verdict: "over", Measures: []Measure{{"load_n", 300, nil}, {"over_mm", -1.25, ptr(0.5)}}},
		{N: 1, Foot: device.Right, FeetUp: 2, StartS: 1.6, Verdict: "not_over", Measures: []Measure{{"over_mm", -4, ptr(0.6)}}},
		{N: 2, Foot: device.Left, FeetUp: 1, StartS: 9, Aborted: true},
	}
	for _, r := range []*Recording{early, other, late} {
		require.NoError(t, l.PutMeasures(r.ID, "1.0", put))
	}
	got, err := l.Releves(late.ID)
	require.NoError(t, err)
	assert.Equal(t, put, got)

	rows, err := l.Measures(Filter{Dancer: "D7"}, "over_mm")
	require.NoError(t, err)
	require.Len(t, rows, 4)
	assert.Equal(t, MeasureRow{
		Dancer: "D7", VisitID: v7.ID, VisitName: "2026-03-14", Day: "2026-03-14", RecordingID: early.ID, Started: early.Started, Support: "barre", Rise: "roll-up", Floor: "vinyl",
		Foot: device.Right, Shoe: "B", ShoeVersion: 1, Strip: "R-01", StripVersion: 1, Mounting: "mounted at noon",
		N: 1, FeetUp: 2, StartS: 1.6, Verdict: "not_over", Measure: Measure{"over_mm", -4, ptr(0.6)}, Version: "1.0",
	}, rows[1])
	rows, err = l.Measures(Filter{Shoe: "A"})
	require.NoError(t, err)
	assert.Len(t, rows, 6)

	// Another version of the program replaces what the one before found.
	require.NoError(t, l.PutMeasures(late.ID, "1.1", put[:1]))
	again, err := l.Recording(late.ID)
	require.NoError(t, err)
	assert.Equal(t, "1.1", again.Measured)
	got, err = l.Releves(late.ID)
	require.NoError(t, err)
	assert.Equal(t, put[:1], got)
}

// One shoe on each foot: the measures of a shoe are those of its foot.
func TestMeasuresOfAShoeAreOfItsFoot(t *testing.T) {
	l := begin(t)
	m := about("D7", "", shoe("A"))
	m.Sides[device.Right].Shoe = ptr(shoe("B"))
	r := keep(t, l, visit(t, l, "D7"), m)
	require.NoError(t, l.PutMeasures(r.ID, "1", []Releve{
		{N: 1, Foot: device.Left, FeetUp: 2, Measures: []Measure{{"over_mm", 1, nil}}},
		{N: 1, Foot: device.Right, FeetUp: 2, Measures: []Measure{{"over_mm", 2, nil}}},
	}))
	rows, err := l.Measures(Filter{Shoe: "B"}, "over_mm")
	require.NoError(t, err)
	require.Len(t, rows, 1)
	assert.Equal(t, 2.0, rows[0].Value)
}

func TestMeasuresThatCannotBe(t *testing.T) {
	l := begin(t)
	m := about("D7", "", shoe("A"))
	m.Sides[device.Right] = nil
	r := keep(t, l, visit(t, l, "D7"), m)
	good := []Releve{{N: 1, Foot: device.Left, FeetUp: 1, Measures: []Measure{{"load_n", 1, nil}}}}
	require.NoError(t, l.PutMeasures(r.ID, "1", good))
	nan := 0.0
	nan /= nan
	for _, bad := range [][]Releve{
		{{N: 1, Foot: device.Left, FeetUp: 1, Measures: []Measure{{"load_n", nan, nil}}}},
		{{N: 1, Foot: device.Left, FeetUp: 1, Measures: []Measure{{"load_n", 1, ptr(-1.0)}}}},
		{{N: 1, Foot: device.Left, FeetUp: 1, Measures: []Measure{{"load_n", 1, &nan}}}},
		{{N: 1, Foot: device.NoFoot, FeetUp: 1}},
		{{N: 1, Foot: device.Right, FeetUp: 1}}, // not recorded
		{{N: 0, Foot: device.Left, FeetUp: 1}},
		{{N: 1, Foot: device.Left, FeetUp: 3}},
		append(good, good...),
	} {
		assert.Error(t, l.PutMeasures(r.ID, "2", bad))
	}
	oneLine(t, l.PutMeasures(r.ID, "", good), ErrInvalid)
	oneLine(t, l.PutMeasures(99, "1", good), ErrNotFound)
	got, err := l.Releves(r.ID)
	require.NoError(t, err)
	assert.Equal(t, good, got, "a failure changes nothing")
}

func TestRemoveRecordingRemovesItsFile(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	r := keep(t, l, v, about("D7", "", shoe("A")))
	require.NoError(t, l.PutMeasures(r.ID, "1", []Releve{{N: 1, Foot: device.Left, FeetUp: 1, Measures: []Measure{{"load_n", 1, nil}}}}))
	oneLine(t, l.RemoveVisit(v.ID), ErrInUse)
	require.NoError(t, l.RemoveRecording(r.ID))
	oneLine(t, l.RemoveRecording(r.ID), ErrNotFound)
	assert.NoFileExists(t, r.Path)
	_, err := l.Shoe("A")
	oneLine(t, err, ErrNotFound)
	for _, table := range []string{"recordings", "recorded_feet", "releves", "measures", "mountings", "erasing", "shoes", "shoe_versions", "strips"} {
		var n int
		require.NoError(t, l.db.QueryRow(`SELECT count(*) FROM `+table).Scan(&n))
		assert.Zero(t, n, table)
	}
	again := keep(t, l, v, about("D7", "", shoe("A")))
	assert.Greater(t, again.ID, r.ID, "somebody's note of the number must not come to mean another recording")
	require.NoError(t, l.RemoveRecording(again.ID))
	require.NoError(t, l.RemoveVisit(v.ID))
}
