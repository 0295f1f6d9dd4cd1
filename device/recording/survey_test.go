package recording_test

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// survey writes frames and events, both feet, and inspects the recording.
func survey(t *testing.T, frames []device.Frame, events ...device.Event) *recording.Survey {
	t.Helper()
	path := tempFile(t)
	w, err := recording.CreateDirect(path, meta(1, 2))
	require.NoError(t, err)
	write(t, w, frames, events...)
	require.NoError(t, w.Close())
	s, err := recording.Inspect(t.Context(), path)
	require.NoError(t, err)
	return s
}

func TestInspectWhole(t *testing.T) {
	s := survey(t, releves(400, 2))
	assert.True(t, s.Whole())
	assert.Empty(t, s.Missing)
	assert.Nil(t, s.Damage)
	assert.EqualValues(t, start, s.StartNS)
	assert.Equal(t, "D-07", s.Meta.Dancer)
	for _, f := range s.Feet { // 200 frames, 5 ms apart
		assert.EqualValues(t, 200, f.Frames)
		assert.True(t, f.Numbered)
		assert.Zero(t, f.Lost)
		assert.Zero(t, f.Saturated)
		assert.InDelta(t, 0.995, f.SpanS, 1e-9)
		assert.InDelta(t, 200, f.RateHz, 1e-9)
		assert.InDelta(t, 0.005, f.LongestS, 1e-9)
		assert.InDelta(t, 50.0/653, f.Covered, 0.01, "two cells of 25 mm² under a platform of 653 mm²")
		assert.True(t, f.Partial())
	}
}

func TestInspectLostFrames(t *testing.T) {
	frames := releves(400, 2)
	frames = append(frames[:100:100], frames[107:]...) // 4 of the left foot, 3 of the right
	gap := device.Event{TimeNS: frames[100].ArrivalNS, Foot: device.Left, Kind: device.Gap, Cause: "lost frames", LengthS: 0.025}
	note := device.Event{TimeNS: gap.TimeNS, Foot: device.Left, Kind: device.Note, Text: "n"}
	s := survey(t, frames, gap, note)
	assert.False(t, s.Whole())
	left, right := s.Feet[device.Left], s.Feet[device.Right]
	assert.EqualValues(t, 4, left.Lost)
	assert.EqualValues(t, 3, right.Lost)
	assert.EqualValues(t, 196, left.Frames)
	assert.Equal(t, []device.Event{gap}, left.Gaps)
	assert.Empty(t, right.Gaps)
	assert.InDelta(t, 200, left.RateHz, 1e-9, "the lost ones were sent too")
	assert.InDelta(t, 0.025, left.LongestS, 1e-9)
	assert.InDelta(t, 0.2675, s.At(gap), 1e-9, "the 108th frame, 2.5 ms each")
}

// A strip that restarts loses frames without a jump in their numbers.
func TestInspectGapWithoutNumbers(t *testing.T) {
	frames := releves(40, 2)
	reset := device.Event{TimeNS: frames[9].ArrivalNS, Foot: device.Right, Kind: device.Gap, Cause: "board reset", LengthS: 1}
	s := survey(t, frames, reset)
	assert.False(t, s.Whole())
	assert.True(t, s.Feet[device.Left].Whole())
	assert.False(t, s.Feet[device.Right].Whole())
}

func TestInspectPauseWithoutNumbers(t *testing.T) {
	frames := releves(400, 2)
	for i := range frames {
		frames[i].Seq = device.NoSeq
	}
	s := survey(t, frames)
	assert.True(t, s.Whole(), "nothing is known to be missing")
	assert.False(t, s.Feet[device.Left].Numbered)

	s = survey(t, append(frames[:100:100], frames[120:]...)) // 50 ms and one interval
	left := s.Feet[device.Left]
	assert.InDelta(t, 0.055, left.LongestS, 1e-9)
	assert.True(t, left.Paused())
	assert.False(t, s.Whole())
}

func TestInspectSaturatedFrames(t *testing.T) {
	frames := releves(40, 2)
	frames[4].Counts[1], frames[6].Counts[0] = 65535, 65535
	s := survey(t, frames)
	assert.EqualValues(t, 2, s.Feet[device.Left].Saturated)
	assert.True(t, s.Whole(), "nothing is missing all the same")
}

func TestInspectOneFootSilent(t *testing.T) {
	frames := releves(40, 2)
	for i := range frames {
		frames[i].Foot = device.Left
	}
	s := survey(t, frames)
	assert.False(t, s.Whole())
	assert.Zero(t, s.Feet[device.Right].Frames)
	assert.Zero(t, s.Feet[device.Right].RateHz)
}

func TestInspectCutShort(t *testing.T) {
	path := tempFile(t)
	b := part(t, releves(40, 2), 2)
	require.NoError(t, os.WriteFile(path, b[:len(b)-3], 0o666))
	s, err := recording.Inspect(t.Context(), path)
	require.NoError(t, err)
	assert.Contains(t, s.Missing, "it was never closed")
	assert.False(t, s.Whole())
	assert.EqualValues(t, 20, s.Feet[device.Left].Frames)
	assert.EqualValues(t, 19, s.Feet[device.Right].Frames)
}

func TestInspectDamage(t *testing.T) {
	path := tempFile(t)
	b := closed(t, releves(1600, 2), 2)
	second := bytes.Index(b, []byte("zstd"))
	second += 4 + bytes.Index(b[second+4:], []byte("zstd"))
	b[second+40] ^= 0xff
	require.NoError(t, os.WriteFile(path, b, 0o666))
	s, err := recording.Inspect(t.Context(), path)
	require.NoError(t, err)
	assert.Nil(t, s.Damage)
	assert.Contains(t, s.Damaged, "damaged at byte ")
	require.Len(t, s.Losses, 1)
	assert.Positive(t, s.Losses[0].Offset)
	assert.False(t, s.Whole())
	for _, f := range s.Feet {
		assert.Positive(t, f.Lost)
		require.Len(t, f.Gaps, 1)
		assert.Equal(t, recording.Damaged, f.Gaps[0].Cause)
		assert.InDelta(t, 1, f.Gaps[0].LengthS, 0.1)
	}

	require.NoError(t, os.WriteFile(path, []byte("t_us,c0\n"), 0o666))
	_, err = recording.Inspect(t.Context(), path)
	require.ErrorContains(t, err, path)
	oneLine(t, err)
}
