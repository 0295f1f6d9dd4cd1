package logbook

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"aplomb/device"
)

// What every command that uses a logbook pays first.
func BenchmarkOpen(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "l")
	for b.Loop() {
		l, err := Open(dir)
		require.NoError(b, err)
		require.NoError(b, l.Close())
	}
}

// A year of a busy room: 200 recordings of twelve relevés of 20 measures each.
func BenchmarkMeasures(b *testing.B) {
	l := begin(b)
	v := visit(b, l, "D7")
	var releves []Releve
	for n := range 6 {
		for _, foot := range device.Feet {
			r := Releve{N: n + 1, Foot: foot, FeetUp: 2, Verdict: "over"}
			for i := range 20 {
				r.Measures = append(r.Measures, Measure{string(rune('a' + i)), float64(i), nil})
			}
			releves = append(releves, r)
		}
	}
	for i := range 200 {
		m := about("D7", "", shoe("A"))
		m.Started = m.Started.Add(time.Duration(i) * time.Minute)
		require.NoError(b, l.PutMeasures(keep(b, l, v, m).ID, "1", releves))
	}
	for b.Loop() {
		rows, err := l.Measures(Filter{Dancer: "D7"}, "c")
		require.NoError(b, err)
		require.Len(b, rows, 200*12)
	}
}
