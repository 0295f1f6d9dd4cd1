package logbook

import (
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/provenance"
	"aplomb/analyze/sensor"
	"aplomb/analyze/track"
	"aplomb/device"
)

func TestTrackRows(t *testing.T) {
	at := time.Date(2026, 3, 14, 17, 0, 0, 0, time.UTC)
	worn := device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5, HoursWorn: 6, Padding: "gel"}
	strip := device.Strip{Name: "R-01"}
	assert.Equal(t, []track.Row{{
		Dancer: "D7", Visit: "2026-03-14-2", Baseline: true, Recording: "12", At: at, Foot: device.Right,
		Shoe: "A", Version: "2", Strip: "R-01", Content: sensor.Content(&strip), Mounting: "m", Support: "barre", Rise: "roll-up", N: 3, Value: -1.5,
		Make: track.MakeOf(&worn), Kern: worn.Outline().Kern(), Hours: 6, Also: track.Also{Floor: "vinyl", Fixing: "tape", Padding: "gel", Mark: 2},
	}}, trackRows([]MeasureRow{{
		Dancer: "D7", VisitID: 4, VisitName: "2026-03-14-2", Day: "2026-03-14", Baseline: true, RecordingID: 12, Started: at,
		Support: "barre", Rise: "roll-up", Foot: device.Right, Shoe: "A", ShoeVersion: 2, Strip: "R-01", StripVersion: 3, Mounting: "m",
		N: 3, Measure: measure.Over, Value: -1.5, Floor: "vinyl", Fixing: "tape", Mark: 2,
	}}, []Shoe{{Shoe: device.Shoe{Code: "A", HoursWorn: 1}, Version: 1}, {Shoe: worn, Version: 2}}, []Strip{{Strip: strip, Version: 3}}))
}

func fresh() *measure.Provenance {
	return provenance.New(measure.Software{Version: "1"}, measure.Settings{Version: "1"})
}

// From the stored values a change has the same uncertainty as from the recordings, so
// that common effects of one strip cancel.
func TestFollowUpIsThatOfTheRecordings(t *testing.T) {
	l := begin(t)
	first := visit(t, l, "D7")
	second, err := l.AddVisit(Visit{Dancer: "D7", Day: "2026-03-15"})
	require.NoError(t, err)
	var results []*measure.Result
	for i, v := range []Visit{first, second} {
		m := about("D7", v.Name(), shoe("A"))
		m.Started = m.Started.AddDate(0, 0, i)
		kept := keep(t, l, v, m)
		r := result("1", releve(1, device.Left, -1-float64(i), 0.9), releve(2, device.Left, -1.4-float64(i), 0.9), releve(3, device.Left, -0.8, 0.9))
		r.Provenance.Algorithm = provenance.Algorithm()
		r.Recording.File, r.Recording.Dancer, r.Meta = fmt.Sprint(kept.ID), "D7", m
		for k := range r.Releves {
			r.Releves[k].Effects = []measure.Effect{
				{Common: measure.OfMounting, Evidence: measure.EvidencePress, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: 0.3, DOF: 7}}},
				{Common: measure.OfShape, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: 0.2, DOF: measure.Unlimited}}},
				{Source: measure.Gain, Common: measure.OfStrip, Draws: map[measure.Measure][]float64{measure.Over: {0.4, -0.4 + 0.01*float64(i)}}},
				{Source: "zero drift", Common: measure.OfStrip, Distribution: measure.Rectangular, Bound: map[measure.Measure]float64{measure.Over: 0.5}},
			}
		}
		require.NoError(t, l.PutMeasures(kept.ID, r))
		results = append(results, r)
	}
	kept, err := l.FollowUp("D7", measure.Over, nil, fresh())
	require.NoError(t, err)
	direct, err := track.Follow(measure.Over, "D7", track.Rows(measure.Over, results))
	require.NoError(t, err)
	a, b := kept.Series[0].Points[1].OfChange, direct.Series[0].Points[1].OfChange
	require.NotNil(t, a)
	assert.InEpsilon(t, b.U, a.U, 1e-6)
	assert.InEpsilon(t, float64(b.DOF), float64(a.DOF), 1e-5)
	assert.Less(t, a.U, math.Hypot(kept.Series[0].Points[0].OfMean.U, kept.Series[0].Points[1].OfMean.U), "gains and drift cancel")
}

// Stale measures are not used in a follow-up, in the noise of a plan or in its progress.
// They are used again after recomputing.
func TestStaleMeasuresAreNotMixedWithCurrentOnes(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	kept := keepThree(t, l, v)
	require.NoError(t, l.PutPlan(v.ID, steps(5, "A")))
	put := func(r Recording, algorithm string) {
		one := result("1", releve(1, device.Left, -1, 0.5), releve(2, device.Left, -2, 0.5))
		one.Provenance.Algorithm = algorithm
		require.NoError(t, l.PutMeasures(r.ID, one))
	}
	put(kept[0], "another")
	put(kept[1], provenance.Algorithm())
	states := func() (all []State) {
		recordings, err := l.Recordings(Filter{})
		require.NoError(t, err)
		for _, r := range recordings {
			all = append(all, r.Measures)
		}
		return all
	}
	assert.Equal(t, []State{Stale, Current, NotMeasured}, states())
	rows := func() int {
		rows, err := l.Measures(Filter{}, measure.Over)
		require.NoError(t, err)
		return len(rows)
	}
	assert.Equal(t, 2, rows())
	f, err := l.FollowUp("d7", measure.Over, nil, fresh())
	require.NoError(t, err)
	assert.Equal(t, []string{fmt.Sprint(kept[1].ID)}, f.Series[0].Points[0].Recordings)
	assert.Equal(t, []measure.Input{kept[1].input()}, f.Provenance.Inputs)
	n, err := l.NoiseOver("D7")
	require.NoError(t, err)
	assert.Equal(t, 1.0, n.ScatterDOF)
	c, err := l.PlanProgress(v.ID)
	require.NoError(t, err)
	assert.Equal(t, -1, c.Steps[0].Releves[device.Left], "how many relevés there are is not known")

	stale, err := l.Releves(kept[0].ID)
	require.NoError(t, err)
	assert.Len(t, stale, 2, "a stale recording can be looked at")
	put(kept[0], provenance.Algorithm())
	put(kept[2], provenance.Algorithm())
	assert.Equal(t, []State{Current, Current, Current}, states())
	assert.Equal(t, 6, rows())

	// Measures of before there were algorithms are stale.
	_, err = l.db.Exec(`UPDATE recordings SET algorithm = ''`)
	require.NoError(t, err)
	assert.Equal(t, []State{Stale, Stale, Stale}, states())
	_, err = l.FollowUp("D7", measure.Over, nil, fresh())
	oneLine(t, err, ErrNotMeasured, "over_mm of dancer D7")
	_, err = l.FollowUp("D8", measure.Over, nil, fresh())
	oneLine(t, err, ErrNotFound)
}

// A recording without a relevé counts as measured.
func TestRecordingWithoutAReleveIsMeasured(t *testing.T) {
	l := begin(t)
	r := keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	require.NoError(t, l.PutMeasures(r.ID, result("1")))
	r, err := l.Recording(r.ID)
	require.NoError(t, err)
	assert.Equal(t, Current, r.Measures)
}

// A follow-up names its recordings, with strips and shoes as they were: those of other
// dancers only if they contribute to the repeatability.
func TestFollowUpHasItsProvenance(t *testing.T) {
	l := begin(t)
	d7, d8 := visit(t, l, "D7"), visit(t, l, "D8")
	own := keep(t, l, d7, about("D7", "", shoe("A")))
	require.NoError(t, l.PutMeasures(own.ID, result("1", releve(1, device.Left, -1, 0.5))))
	for i := range 8 {
		m := about("D8", "", shoe("B"))
		m.Started = m.Started.Add(time.Duration(i) * time.Minute)
		for _, s := range m.Sides {
			s.Mounting = fmt.Sprint("mounting ", i)
		}
		require.NoError(t, l.PutMeasures(keep(t, l, d8, m).ID, result("1", releve(1, device.Left, float64(i), 0.5), releve(2, device.Left, float64(i)+0.1, 0.5))))
	}
	f, err := l.FollowUp("D7", measure.Over, nil, fresh())
	require.NoError(t, err)
	require.True(t, f.Series[0].Repeat.Pooled)
	assert.Len(t, f.Provenance.Inputs, 9)
	f, err = l.FollowUp("D8", measure.Over, nil, fresh())
	require.NoError(t, err)
	require.False(t, f.Series[0].Repeat.Pooled)
	assert.Len(t, f.Provenance.Inputs, 8)
	_, withdrawn, err := l.Rows(Filter{}, measure.Over, fresh())
	require.NoError(t, err)
	assert.Zero(t, withdrawn)
	noise, err := l.NoiseOver("D7")
	require.NoError(t, err)

	// Nothing is made of the recordings of a dancer who has withdrawn, also for others.
	d, err := l.Dancer("D8")
	require.NoError(t, err)
	d.Consent = ConsentWithdrawn
	require.NoError(t, l.EditDancer(d))
	_, err = l.FollowUp("D8", measure.Over, nil, fresh())
	oneLine(t, err, ErrWithdrawn, "dancer D8")
	alone, err := l.FollowUp("D7", measure.Over, nil, fresh())
	require.NoError(t, err)
	assert.Nil(t, alone.Series[0].Repeat)
	assert.Len(t, alone.Provenance.Inputs, 1)
	mountings, err := l.MountingRows(nil, nil)
	require.NoError(t, err)
	assert.False(t, slices.ContainsFunc(mountings, func(r mounting.Row) bool { return r.Dancer == "D8" }))
	less, err := l.NoiseOver("D7")
	require.NoError(t, err)
	assert.Less(t, less.Effect.DOF, noise.Effect.DOF)
	left := fresh()
	rows, withdrawn, err := l.Rows(Filter{}, measure.Over, left)
	require.NoError(t, err)
	assert.Equal(t, []int{1, 1, 1}, []int{len(rows), withdrawn, len(left.Inputs)})

	assert.Equal(t, "B", f.Provenance.Shoes[0].Name)
	assert.Len(t, f.Provenance.Shoes, 1)
	assert.Len(t, f.Provenance.Strips, 2)

	// Strip and shoe are the same content as in the recording itself.
	want := fresh()
	meta := about("D8", "", shoe("B"))
	provenance.Add(want, measure.Input{}, meta.Sides)
	assert.Equal(t, want.Strips, f.Provenance.Strips)
	assert.Equal(t, want.Shoes, f.Provenance.Shoes)
	assert.Equal(t, filepath.Base(f.Provenance.Inputs[0].File), f.Provenance.Inputs[0].File, "without its folder")
	text, err := json.Marshal(f)
	require.NoError(t, err)
	assert.NotContains(t, string(text), l.Dir())
}
