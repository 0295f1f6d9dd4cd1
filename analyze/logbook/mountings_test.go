package logbook

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/device"
)

// The stored seats are returned with the relevés of other recordings.
func TestMountingRows(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	kept := keepThree(t, l, v)
	seated := func(n int, foot device.Foot, over float64) measure.Releve {
		r := releve(n, foot, over, 0.5)
		share := 0.45
		r.LoadShare = &share
		r.Effects = []measure.Effect{{
			Common: measure.OfMounting, Evidence: measure.EvidencePress,
			U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: 0.2, DOF: measure.Unlimited}},
		}}
		return r
	}
	for i, r := range kept[:2] {
		require.NoError(t, l.PutMeasures(r.ID, result("1", seated(1, device.Left, float64(-i)), seated(1, device.Right, 1))))
	}
	releves, err := l.Releves(kept[0].ID)
	require.NoError(t, err)
	assert.Equal(t, measure.EvidencePress, releves[0].Evidence)
	assert.Equal(t, 0.2, valueOf(t, releves[0], measure.Over).USeat)

	all, err := l.MountingRows(nil, nil)
	require.NoError(t, err)
	others, err := l.MountingRows(nil, kept[:1])
	require.NoError(t, err)
	assert.Len(t, others, len(all)/2)
	var over, shares []mounting.Row
	for _, r := range others {
		switch r.Measure {
		case measure.Over:
			over = append(over, r)
		case measure.LoadShare:
			shares = append(shares, r)
		}
	}
	require.Len(t, over, 2)
	assert.Equal(t, mounting.Row{
		Dancer: "D7", Recording: over[0].Recording, Group: over[0].Group, Mounting: "mounted at noon", Measure: measure.Over,
		Value: -1, SeatU: 0.2, Evidence: measure.EvidencePress,
	}, over[0])
	assert.NotEqual(t, over[0].Group, over[1].Group, "each foot by itself")
	assert.Len(t, shares, 1, "one number for both feet")
}

// Filter.Informing selects all visits of the dancer and the latest of other dancers: of
// older ones only those with repeated mountings and baselines. Visits of a dancer who has
// withdrawn neither count nor take the place of others.
func TestInforming(t *testing.T) {
	l := begin(t)
	want := map[int64]bool{}
	for i := range 2 { // so that there are two mountings for a visit below
		m := about("D7", "", shoe("A"))
		m.Started = m.Started.AddDate(0, 0, i)
		m.Sides[device.Left].Mounting = fmt.Sprint(i)
		want[keep(t, l, visit(t, l, "D7"), m).VisitID] = true
	}
	for _, code := range []string{"D8", "D9"} {
		require.NoError(t, l.AddDancer(Dancer{Code: code}))
	}
	_, err := l.db.Exec(`UPDATE dancers SET consent = 'withdrawn' WHERE code = 'D9'`)
	require.NoError(t, err)
	add := func(dancer, day string, recordings int, baseline bool) (id int64) {
		require.NoError(t, l.db.QueryRow(`INSERT INTO visits (dancer_id, day, number, baseline)
			SELECT id, ?2, 1, ?3 FROM dancers WHERE code = ?1 RETURNING id`, dancer, day, baseline).Scan(&id))
		for i := range recordings {
			_, err := l.db.Exec(`INSERT INTO recordings (visit_id, file, sha256, size, started_ns) VALUES (?1, ?2, ?3, 0, 0)`,
				id, fmt.Sprint(id, "-", i), strings.Repeat("0", 60)+fmt.Sprintf("%03d%d", id, i))
			require.NoError(t, err)
		}
		return id
	}
	twice, baseline, old := add("D8", "2025-01-03", 2, false), add("D8", "2025-01-02", 1, true), add("D8", "2025-01-04", 2, false)
	_, err = l.db.Exec(`INSERT INTO recorded_feet (recording_id, foot, shoe_version_id, strip_version_id, mounting_id)
		SELECT r.id, 'left', rf.shoe_version_id, rf.strip_version_id, (SELECT min(id) FROM mountings) + (r.visit_id = ?1) * (r.id % 2)
		FROM recordings r, recorded_feet rf WHERE r.visit_id IN (?1, ?2) AND rf.recording_id = 1 AND rf.foot = 'left'`, twice, old)
	require.NoError(t, err)
	day := func(i int) string { return started.AddDate(0, 0, -i).Format("2006-01-02") }
	want[twice], want[baseline] = true, true
	for i := range latestOthers {
		want[add("D8", day(i), 1, false)] = true
		add("D9", day(i), 1, false)
	}
	add("D8", day(-1), 0, false) // without a recording

	recordings, err := l.Recordings(Filter{Informing: []string{"d7"}})
	require.NoError(t, err)
	got := map[int64]bool{}
	for _, r := range recordings {
		got[r.VisitID] = true
	}
	assert.Equal(t, want, got)
}
