package check

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// Frames that arrive late at either end say nothing about the rate of the strip's clock.
func TestClockRatioOfLateFrames(t *testing.T) {
	const (
		ms      = 1_000_000 // ns
		missing = -1
	)
	prompt := func(us int64) int64 { return 1000 * us } // arrival of a frame measured at us, ns
	for name, c := range map[string]struct {
		arrival func(us int64) int64 // of a frame measured at us, ns
		want    float64
	}{
		"prompt":            {prompt, 1},
		"old frames":        {func(us int64) int64 { return max(prompt(us), 900*ms) }, 1},
		"a stop at the end": {func(us int64) int64 { return prompt(us) + max(0, us-11_100_000)*200 }, 1},
		"a fast clock":      {func(us int64) int64 { return prompt(us) * 20 / 21 }, 1.05},
		"a gap, then one late frame": {func(us int64) int64 {
			switch {
			case us <= 400_000:
				return prompt(us)
			case us < 12_000_000:
				return missing
			}
			return prompt(us) + 500*ms
		}, 12 / 12.5},
	} {
		t.Run(name, func(t *testing.T) {
			var r timing
			for us := int64(0); us <= 12_000_000; us += 5000 {
				at := c.arrival(us)
				if at == missing {
					continue
				}
				r.add(&device.Frame{TimeUS: uint64(us), ArrivalNS: 1e18 + at, Seq: us / 5000})
			}
			ratio, ok := r.clockRatio()
			require.True(t, ok)
			assert.InDelta(t, c.want, ratio, 1e-3)
		})
	}
}

// Times in milliseconds, taken as microseconds, are more frames a second than a strip sends.
func TestTimesThatAreNoMicroseconds(t *testing.T) {
	var r Report
	r.checkClock(&footCheck{side: &device.Side{Clock: "strip"}, survey: &recording.FootSurvey{RateHz: 200_000}})
	require.Len(t, r.Findings, 1)
	assert.Equal(t, ClockWrong, r.Findings[0].Kind)
	assert.True(t, r.Findings[0].Grave)
}

func TestOneMissingFrame(t *testing.T) {
	var r Report
	r.checkFrames(&footCheck{survey: &recording.FootSurvey{Numbered: true, Lost: 1}}, &recording.Survey{}, nil)
	require.Len(t, r.Findings, 1)
	assert.Equal(t, "1 frame is missing", r.Findings[0].Text)
}
