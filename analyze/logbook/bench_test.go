package logbook

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// BenchmarkOpen measures the start of every command that uses a logbook.
func BenchmarkOpen(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "l")
	for b.Loop() {
		l, err := Open(dir)
		require.NoError(b, err)
		require.NoError(b, l.Close())
	}
}

// BenchmarkMeasures has a year of a busy room: 200 recordings of twelve relevés.
func BenchmarkMeasures(b *testing.B) {
	l := begin(b)
	v := visit(b, l, "D7")
	releves := sixRises()
	for i := range 200 {
		m := about("D7", "", shoe("A"))
		m.Started = m.Started.Add(time.Duration(i) * time.Minute)
		require.NoError(b, l.PutMeasures(keep(b, l, v, m).ID, result("1", releves...)))
	}
	for b.Loop() {
		rows, err := l.Measures(Filter{Dancer: "D7"}, measure.Over)
		require.NoError(b, err)
		require.Len(b, rows, 200*12)
	}
}

// sixRises returns the relevés of six rises on both feet.
func sixRises() (all []measure.Releve) {
	for n := range 6 {
		for _, foot := range device.Feet {
			all = append(all, releve(n+1, foot, -1, 1))
		}
	}
	return all
}

// BenchmarkMountingRows is what a comparison reads of other dancers, each of whom came once
// and made four recordings of twelve relevés.
func BenchmarkMountingRows(b *testing.B) {
	for _, visits := range []int{100, 1000, 4000} {
		b.Run(fmt.Sprint(visits, " visits"), func(b *testing.B) {
			l := begin(b)
			fill(b, l, visits)
			for b.Loop() {
				rows, err := l.MountingRows([]string{"D7"}, nil)
				require.NoError(b, err)
				require.NotEmpty(b, rows)
			}
		})
	}
}

// fill adds a number of visits: one of D7 and copies of it, each of another dancer.
func fill(b *testing.B, l *Logbook, visits int) {
	v := visit(b, l, "D7")
	releves := sixRises()
	for i := range 4 {
		m := about("D7", "", shoe("A"))
		m.Started = m.Started.Add(time.Duration(i) * time.Minute)
		m.Sides[device.Left].Mounting, m.Sides[device.Right].Mounting = fmt.Sprint(i), fmt.Sprint(i)
		require.NoError(b, l.PutMeasures(keep(b, l, v, m).ID, result("1", releves...)))
	}
	_, err := l.db.Exec(`CREATE TEMP TABLE copies AS WITH RECURSIVE c (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM c WHERE i < ?) SELECT i FROM c`, visits-1)
	require.NoError(b, err)
	_, err = l.db.Exec(`INSERT INTO dancers (id, code, key) SELECT 1 + i, 'E' || i, 'e' || i FROM copies;
		INSERT INTO visits (id, dancer_id, day, number) SELECT 1 + i, 1 + i, date('2025-01-01', (i % 365) || ' days'), 1 FROM copies;
		INSERT INTO recordings (id, visit_id, file, sha256, size, started_ns, algorithm)
			SELECT id + 4 * i, 1 + i, i || file, format('%010d', i) || substr(sha256, 11), size, started_ns, algorithm FROM recordings, copies;
		INSERT INTO recorded_feet (recording_id, foot, shoe_version_id, strip_version_id, mounting_id)
			SELECT recording_id + 4 * i, foot, shoe_version_id, strip_version_id, mounting_id FROM recorded_feet, copies;
		INSERT INTO releves (id, recording_id, foot, n, feet_up, start_s, status)
			SELECT id + 48 * i, recording_id + 4 * i, foot, n, feet_up, start_s, status FROM releves, copies;
		INSERT INTO measures (releve_id, name, value, version) SELECT releve_id + 48 * i, name, value, version FROM measures, copies`)
	require.NoError(b, err)
}
