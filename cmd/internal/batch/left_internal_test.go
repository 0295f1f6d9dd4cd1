package batch

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/cmd/internal/lookup"
)

func TestRemarkWithoutPainCancelsNoStop(t *testing.T) {
	var kept lookup.Recordings
	pain := 6
	for _, said := range []*measure.Remark{{Pain: &pain}, {Note: "quiet"}, nil} {
		addVisit(&kept, &lookup.Recordings{}, 0, &measure.Result{Remark: said})
		assert.Contains(t, kept.Stop, "Stop: pain is 6 of 10")
	}
}

func TestTimeLeft(t *testing.T) {
	for _, c := range []struct {
		took      time.Duration
		done, all int64
		want      string
	}{
		{time.Second, 1, 100, ""}, // too early to tell
		{10 * time.Second, 0, 100, ""},
		{10 * time.Second, 100, 100, ""},
		{10 * time.Second, 50, 100, ", about 10 s left"},
		{10 * time.Second, 1, 13, ", about 2 min left"},
		{time.Minute, 1, 601, ", about 10.0 h left"},
	} {
		assert.Equal(t, c.want, timeLeft(c.took, c.done, c.all), "%+v", c)
	}
}
