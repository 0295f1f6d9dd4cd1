package logbook

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/sensor"
	"aplomb/device"
	"aplomb/device/recording"
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

// Entered properties stay current after older recordings with other properties are added.
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

// A shoe that was known from a recording and then entered stays when the recording is
// removed.
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
	sum, size, err := provenance.SHA256(bg, r.Path)
	require.NoError(t, err)
	identity, err := recording.Identity(bg, r.Path)
	require.NoError(t, err)
	assert.Equal(t, Recording{
		ID: r.ID, Identity: identity, Path: r.Path, SHA256: sum, Size: size, Dancer: "D7", VisitID: v.ID, VisitName: "2026-03-14", Day: "2026-03-14", Started: started,
		Software: "aplomb test", Support: "barre", Rise: "roll-up", Position: "first", Floor: "vinyl", MassKG: 55,
		Feet: [2]*RecordedFoot{foot("L-01"), foot("R-01")},
	}, r)
}

func TestRecordingFromElsewhereIsCopied(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	from := record(t, filepath.Join(t.TempDir(), "a 1.mcap"), about("D7", "", shoe("A")))
	r, err := l.AddRecording(bg, from, v.ID)
	require.NoError(t, err)
	assert.FileExists(t, from)
	number, err := recording.Number(bg, r.Path)
	require.NoError(t, err)
	assert.Equal(t, r.ID, number)
	number, err = recording.Number(bg, from)
	require.NoError(t, err)
	assert.Zero(t, number)
	identity, err := recording.Identity(bg, from)
	require.NoError(t, err)
	assert.Equal(t, identity, r.Identity)
	_, err = l.AddRecording(bg, from, v.ID)
	oneLine(t, err, ErrExists, from, "as recording 1")
	_, err = l.AddRecording(bg, r.Path, v.ID)
	oneLine(t, err, ErrExists)
	assert.Len(t, files(t, filepath.Join(l.Dir(), recordings)), 1)
}

// The same recording is not added twice: in another file, as the .part of a crash and its
// completed file, or with corrected metadata.
func TestRecordingIsNotTakenInTwice(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	dir := t.TempDir()
	m := about("D7", "", shoe("A"))
	first := record(t, filepath.Join(dir, "first.mcap"), m)
	n := made.Load()
	made.Store(n - 1) // the same frames once more
	m.Floor = "wood"
	corrected := record(t, filepath.Join(dir, "corrected.mcap"), m)
	r, err := l.AddRecording(bg, first, v.ID)
	require.NoError(t, err)
	require.NotEmpty(t, r.Identity)
	_, err = l.AddRecording(bg, corrected, v.ID)
	oneLine(t, err, ErrExists, corrected, "as recording 1 (both have the id "+r.Identity)
	assert.Len(t, files(t, filepath.Join(l.Dir(), recordings)), 1, "no copy stays")

	// Where an old program took both in, check says so once their ids are known.
	_, err = l.db.Exec(`UPDATE recordings SET identity = ''`)
	require.NoError(t, err)
	second, err := l.AddRecording(bg, corrected, v.ID)
	require.NoError(t, err)
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)
	measured := result("1", releve(1, device.Left, -1, 0.5))
	measured.Provenance.Inputs = []measure.Input{{ID: r.Identity}}
	require.NoError(t, l.PutMeasures(r.ID, measured))
	findings, err = l.Check(bg)
	require.NoError(t, err)
	require.Len(t, findings, 1)
	assert.Equal(t, second.Path+": the same recording as recording 1, in another file: erase the one that is not needed (aplomb logbook erase 2)", findings[0].String())
}

// Stored measures that a failing disk has changed are named, and can be measured again.
func TestDamagedMeasures(t *testing.T) {
	l := begin(t)
	r := keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	require.NoError(t, l.PutMeasures(r.ID, result("1", releve(1, device.Left, -1, 0.5))))
	_, err := l.db.Exec(`UPDATE measures SET sensor = '{&' WHERE name = 'over_mm'`)
	require.NoError(t, err)
	_, err = l.Releves(r.ID)
	oneLine(t, err, ErrDamaged, "over_mm of recording 1", "aplomb logbook measure measures it again")
	_, err = l.Measures(Filter{})
	oneLine(t, err, ErrDamaged, "over_mm of recording 1", "aplomb logbook measure measures it again")
	findings, err := l.Check(bg)
	require.NoError(t, err)
	require.Len(t, findings, 1)
	assert.Equal(t, filepath.Join(l.Dir(), database)+": the measures of recording 1 cannot be read: aplomb logbook measure measures it again", findings[0].String())
}

// A damaged recording has no identity; the logbook stores it nevertheless.
func TestDamagedRecordingHasNoIdentity(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	path := record(t, filepath.Join(t.TempDir(), "a.mcap"), about("D7", "", shoe("A")))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for i := len(data) / 2; i < len(data)/2+64; i++ {
		data[i] ^= 0xff
	}
	require.NoError(t, os.WriteFile(path, data, 0o600))
	_, err = recording.Identity(bg, path)
	require.Error(t, err)
	r, err := l.AddRecording(bg, path, v.ID)
	require.NoError(t, err)
	assert.Empty(t, r.Identity)
}

func TestRecordingGoesIntoNoOtherVisit(t *testing.T) {
	l := begin(t)
	v, other := visit(t, l, "D7"), visit(t, l, "D8")
	dir := t.TempDir()
	path := record(t, filepath.Join(dir, "1.mcap"), about("D7", "2026-03-14", shoe("A")))
	_, err := l.AddRecording(bg, path, other.ID)
	oneLine(t, err, ErrInvalid, path, `"D8"`)
	second := visit(t, l, "D7")
	_, err = l.AddRecording(bg, path, second.ID)
	oneLine(t, err, ErrInvalid, path, "2026-03-14-2")
	_, err = l.AddRecording(bg, path, 99)
	oneLine(t, err, ErrNotFound)
	_, err = l.AddRecording(bg, filepath.Join(dir, "none.mcap"), v.ID)
	assert.ErrorContains(t, err, "none.mcap")
	junk := filepath.Join(dir, "junk.mcap")
	require.NoError(t, os.WriteFile(junk, []byte("nothing"), 0o600))
	_, err = l.AddRecording(bg, junk, v.ID)
	assert.ErrorContains(t, err, "not a recording")
	assert.Empty(t, files(t, filepath.Join(l.Dir(), recordings)))
	_, err = l.AddRecording(bg, record(t, filepath.Join(dir, "2.mcap"), about("", "", shoe("A"))), v.ID)
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

	put := result("1.0", releve(1, device.Left, -1.25, 0.5), releve(1, device.Right, -4, 0.6),
		measure.Releve{N: 2, Foot: device.Left, FeetUp: 1, StartS: 9, Status: measure.Aborted})
	for _, r := range []*Recording{early, other, late} {
		require.NoError(t, l.PutMeasures(r.ID, put))
	}
	got, err := l.Releves(late.ID)
	require.NoError(t, err)
	assert.Equal(t, RelevesOf(put), got)

	rows, err := l.Measures(Filter{Dancer: "D7"}, measure.Over)
	require.NoError(t, err)
	require.Len(t, rows, 4)
	assert.Equal(t, MeasureRow{
		Dancer: "D7", VisitID: v7.ID, VisitName: "2026-03-14", Day: "2026-03-14", RecordingID: early.ID, Identity: early.Identity, Started: early.Started, Support: "barre", Rise: "roll-up", Position: "first", Floor: "vinyl",
		Foot: device.Right, Shoe: "B", ShoeVersion: 1, Strip: "R-01", StripVersion: 1, Mounting: "mounted at noon",
		N: 1, FeetUp: 2, StartS: 1, Verdict: measure.OverTheBox, Measure: measure.Over, Value: -4, U: ptr(0.6), Sensor: &sensor.Part{}, SeatDOF: measure.Unlimited, Version: "1.0",
	}, rows[1])
	rows, err = l.Measures(Filter{Shoe: "A"})
	require.NoError(t, err)
	assert.Len(t, rows, 4*len(got[0].Values))

	// Another version of the program replaces what the one before found.
	put.Provenance.Version = "1.1"
	put.Releves = put.Releves[:1]
	require.NoError(t, l.PutMeasures(late.ID, put))
	again, err := l.Recording(late.ID)
	require.NoError(t, err)
	assert.Equal(t, "1.1", again.Version)
	got, err = l.Releves(late.ID)
	require.NoError(t, err)
	assert.Equal(t, RelevesOf(put), got)
}

// A measure unknown to this program, as a newer one may have written, is omitted.
func TestUnknownMeasureIsLeftOut(t *testing.T) {
	l := begin(t)
	r := keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	require.NoError(t, l.PutMeasures(r.ID, result("1", releve(1, device.Left, -1, 0.5))))
	before, err := l.Releves(r.ID)
	require.NoError(t, err)
	rows, err := l.Measures(Filter{})
	require.NoError(t, err)
	_, err = l.db.Exec(`INSERT INTO measures (releve_id, name, value, version) SELECT id, 'torsion_deg', 7, '9' FROM releves`)
	require.NoError(t, err)
	after, err := l.Releves(r.ID)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	again, err := l.Measures(Filter{})
	require.NoError(t, err)
	assert.Equal(t, rows, again)
}

// With another shoe on each foot, the measures of a shoe are those of its foot.
func TestMeasuresOfAShoeAreOfItsFoot(t *testing.T) {
	l := begin(t)
	m := about("D7", "", shoe("A"))
	m.Sides[device.Right].Shoe = ptr(shoe("B"))
	r := keep(t, l, visit(t, l, "D7"), m)
	require.NoError(t, l.PutMeasures(r.ID, result("1", releve(1, device.Left, 1, 0.5), releve(1, device.Right, 2, 0.5))))
	rows, err := l.Measures(Filter{Shoe: "B"}, measure.Over)
	require.NoError(t, err)
	require.Len(t, rows, 1)
	assert.Equal(t, 2.0, rows[0].Value)
}

func TestMeasuresThatCannotBe(t *testing.T) {
	l := begin(t)
	m := about("D7", "", shoe("A"))
	m.Sides[device.Right] = nil
	r := keep(t, l, visit(t, l, "D7"), m)
	good := result("1", releve(1, device.Left, 1, 0.5))
	require.NoError(t, l.PutMeasures(r.ID, good))
	once, tooMany := releve(0, device.Left, 1, 0.5), releve(1, device.Left, 1, 0.5)
	tooMany.FeetUp = 3
	for _, bad := range [][]measure.Releve{
		{releve(1, device.Left, math.NaN(), 0.5)},
		{releve(1, device.Left, 1, -1)},
		{releve(1, device.Left, 1, math.NaN())},
		{releve(1, device.NoFoot, 1, 0.5)},
		{releve(1, device.Right, 1, 0.5)}, // not recorded
		{once},
		{tooMany},
		{releve(1, device.Left, 1, 0.5), releve(1, device.Left, 1, 0.5)},
	} {
		assert.Error(t, l.PutMeasures(r.ID, result("2", bad...)))
	}
	oneLine(t, l.PutMeasures(r.ID, result("", good.Releves...)), ErrInvalid)
	oneLine(t, l.PutMeasures(r.ID, &measure.Result{}), ErrInvalid)
	oneLine(t, l.PutMeasures(99, good), ErrNotFound)
	got, err := l.Releves(r.ID)
	require.NoError(t, err)
	assert.Equal(t, RelevesOf(good), got, "a failure changes nothing")
	kept, err := l.Recording(r.ID)
	require.NoError(t, err)
	assert.Equal(t, "1", kept.Version)
}

func TestRemoveRecordingRemovesItsFile(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	r := keep(t, l, v, about("D7", "", shoe("A")))
	require.NoError(t, l.PutMeasures(r.ID, result("1", releve(1, device.Left, 1, 0.5))))
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

// The logbook stores every measure with the uncertainty stated by the hold, or with the
// contributions of mounting and gains.
func TestRelevesOf(t *testing.T) {
	m := &measure.Hold{
		OverMM: -3, UOverMM: 1.1, KernRatio: 0.5, HoldS: 2, Verdict: measure.PulledBack,
		Effects: []measure.Effect{
			{Common: measure.OfMounting, Evidence: measure.EvidencePress, U: map[measure.Measure]measure.StandardUncertainty{measure.KernRatio: {U: 0.3, DOF: 8}}},
			{Source: measure.Gain, Common: measure.OfStrip, Draws: map[measure.Measure][]float64{measure.KernRatio: {0.4, -0.4}}},
		},
	}
	all := RelevesOf(&measure.Result{Releves: []measure.Releve{
		{N: 1, Foot: device.Left, FeetUp: 2, StartS: 1.5, Status: measure.Measured, Hold: m},
		{N: 2, Foot: device.Left, Status: measure.Measured, Discarded: true, Hold: m},
		{N: 3, Foot: device.Right, Status: measure.Aborted},
	}})
	require.Len(t, all, 2, "the discarded one is left out")
	assert.Equal(t, measure.PulledBack, all[0].Verdict)
	assert.Equal(t, Value{Measure: measure.Over, Value: -3, U: ptr(1.1), Sensor: &sensor.Part{}, SeatDOF: measure.Unlimited}, valueOf(t, all[0], measure.Over))
	assert.Nil(t, valueOf(t, all[0], measure.KernRatio).Sensor, "kept of declared measures")
	assert.InDelta(t, 0.5, *valueOf(t, all[0], measure.KernRatio).U, 1e-12) // 3, 4, 5
	assert.InDelta(t, 0.3, valueOf(t, all[0], measure.KernRatio).USeat, 1e-12)
	assert.Equal(t, measure.EvidencePress, all[0].Evidence)
	assert.Nil(t, valueOf(t, all[0], measure.HoldTime).U)
	for _, v := range all[0].Values {
		assert.NotEqual(t, measure.LoadShare, v.Measure, "one foot has none")
	}
	assert.True(t, all[1].Aborted)
	assert.Equal(t, 3, all[1].N)
	assert.Empty(t, all[1].Values)
}
