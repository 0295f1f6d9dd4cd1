package track_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/sensor"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/device/platform"
)

func TestRowsOfRecordings(t *testing.T) {
	strip := &device.Strip{Name: "L-01"}
	shoe := &device.Shoe{Code: "A", HoursWorn: 2}
	share := 0.4
	releve := func(n int, over float64) measure.Releve {
		return measure.Releve{N: n, Foot: device.Left, Status: measure.Measured, Hold: &measure.Hold{OverMM: over}}
	}
	r := &measure.Result{
		Recording: measure.Recording{File: "a.mcap"},
		Meta: device.Metadata{
			Dancer: "D7", Started: time.Date(2026, 3, 2, 23, 30, 0, 0, time.FixedZone("", -3600)), Support: "barre", Rise: "spring",
			Sides: [2]*device.Side{{Strip: strip, Shoe: shoe, Mounting: "m"}, nil},
		},
		Releves: []measure.Releve{releve(1, -4), {N: 2, Status: measure.Aborted}, releve(3, -5), releve(4, -6)},
	}
	r.Releves[2].Discarded = true
	r.Releves[3].LoadShare = &share

	rows := track.Rows(measure.Over, []*measure.Result{r})
	require.Len(t, rows, 2, "neither aborted nor discarded")
	require.NotNil(t, rows[0].Sensor)
	rows[0].Sensor = nil
	assert.Equal(t, track.Row{
		Dancer: "D7", Visit: "2026-03-03", Recording: "a.mcap", At: r.Meta.Started, Foot: device.Left, Shoe: "A",
		Version: device.TOML(shoe), Make: track.MakeOf(shoe), Hours: 2, Strip: "L-01", Mounting: "m", Support: "barre", Rise: "spring", N: 1, Value: -4, SeatDOF: math.Inf(1), Content: sensor.Content(strip),
	}, rows[0])
	assert.Equal(t, 4, rows[1].N)
	assert.Len(t, track.Rows(measure.LoadShare, []*measure.Result{r}), 1, "what is not defined has no row")

	kern := platform.Rectangle(12, 8)
	r.Platforms.Set(device.Left, measure.Platform{Kern: kern})
	assert.Equal(t, kern, track.Rows(measure.Over, []*measure.Result{r})[0].Kern)

	r.Meta.Feedback = device.FeedbackLive
	assert.Empty(t, track.Rows(measure.Over, []*measure.Result{r}), "practice")

	r.Meta.Visit = "2026-03-02-2"
	assert.Equal(t, "2026-03-02-2", track.VisitOf(r))
}

// The weight of a mass of 75 kg is 735.5 N: the metric horsepower is its weight × 1 m/s,
// 735.49875 W.
func TestBodyWeight(t *testing.T) {
	assert.InDelta(t, 1, track.BodyWeight(735.49875, 75), 1e-12)
	assert.InDelta(t, 0.5, track.BodyWeight(735.49875, 150), 1e-12)
}
