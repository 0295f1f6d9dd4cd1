package kept

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/device"
)

func TestTrackRows(t *testing.T) {
	at := time.Date(2026, 3, 14, 17, 0, 0, 0, time.UTC)
	m := logbook.MeasureRow{
		Dancer: "D7", VisitID: 4, VisitName: "2026-03-14-2", Day: "2026-03-14", Baseline: true, RecordingID: 12, Started: at,
		Support: "barre", Rise: "roll-up", Foot: device.Right, Shoe: "A", ShoeVersion: 2, Strip: "R-01", StripVersion: 3, Mounting: "m",
		N: 3, Measure: logbook.Measure{Name: "over_mm", Value: -1.5},
	}
	other := m
	other.Name = "load_n"
	assert.Equal(t, []track.Row{{
		Dancer: "D7", Visit: "2026-03-14-2", Baseline: true, Recording: "12", At: at, Foot: device.Right,
		Shoe: "A", Version: "2", Strip: "R-01", Mounting: "m", Support: "barre", Rise: "roll-up", N: 3, Value: -1.5,
	}}, TrackRows(measure.Over, []logbook.MeasureRow{m, other}))
}
