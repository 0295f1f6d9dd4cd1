package kept

import (
	"strconv"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/track"
)

// TrackRows returns what the logbook keeps of a measure as package track follows
// it. Recordings go by their numbers, and a shoe is another where its version is.
func TrackRows(of measure.Measure, measures []logbook.MeasureRow) (rows []track.Row) {
	for _, m := range measures {
		if m.Name != of.Symbol() {
			continue
		}
		rows = append(rows, track.Row{
			Dancer: m.Dancer, Visit: m.VisitName, Baseline: m.Baseline, Recording: strconv.FormatInt(m.RecordingID, 10), At: m.Started,
			Foot: m.Foot, Shoe: m.Shoe, Version: strconv.Itoa(m.ShoeVersion), Strip: m.Strip, Mounting: m.Mounting,
			Support: m.Support, Rise: m.Rise, N: m.N, Value: m.Value,
		})
	}
	return rows
}
