package logbook

import (
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
	var releves []measure.Releve
	for n := range 6 {
		for _, foot := range device.Feet {
			releves = append(releves, releve(n+1, foot, -1, 1))
		}
	}
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
