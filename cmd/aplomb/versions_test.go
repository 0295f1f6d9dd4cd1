package main

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/device"
)

func TestNumbersOf(t *testing.T) {
	for want, ids := range map[string][]int64{
		"": nil, "4": {4}, "4, 5": {4, 5}, "4 to 6": {4, 5, 6}, "1, 3": {1, 3}, "1, 2, 5 to 9, 12": {1, 2, 5, 6, 7, 8, 9, 12},
	} {
		var recordings []logbook.Recording
		for _, id := range ids {
			recordings = append(recordings, logbook.Recording{ID: id})
		}
		assert.Equal(t, want, numbersOf(recordings))
	}
}

func TestChanged(t *testing.T) {
	before := []string{"shank", "soft", "padding", "gel", "hours worn", ""}
	assert.Equal(t, "shank hard (was soft); padding no longer said; hours worn 6",
		changed(before, []string{"shank", "hard", "padding", "", "hours worn", "6"}))
	assert.Equal(t, "details", changed(before, before))
	assert.Equal(t, "shank a word that goes on and on and on and on and on (was soft); padding; hours worn",
		changed(before, []string{"shank", "a word that goes on and on and on and on and on", "padding", "wool", "hours worn", "6"}))
}

func TestBegun(t *testing.T) {
	for typed, want := range map[string]string{"h": "hard", "HA": "hard", "soft": "soft", "x": "x", "": ""} {
		assert.Equal(t, want, begun(device.Shanks[:], typed))
	}
	assert.Equal(t, "r", begun(wordsOf(shapes), "r"), "rounded or rectangle")
	assert.Equal(t, "4", begun(wordsOf(shapes), "4"))
}

// An outcome does not take the place of what somebody else wrote meanwhile.
func TestStripChangedMeanwhile(t *testing.T) {
	dir := t.TempDir()
	l, err := logbook.Open(dir)
	require.NoError(t, err)
	defer l.Close()
	s, err := device.ReadStrip(t.Context(), filepath.Join("testdata", "profiles", "left.toml"))
	require.NoError(t, err)
	require.NoError(t, l.AddStrip(*s))

	kept := profileInBook(&book{named: dir}, "l-01")
	mine, err := kept.read()
	require.NoError(t, err)
	require.Equal(t, s, mine)
	mine.Calibration.KPaPerCount = 0.5
	write, err := kept.replace(mine)
	require.NoError(t, err)

	theirs := *s
	theirs.Mount.SeatSDMM = 0.4
	require.NoError(t, l.EditStrip(theirs))
	assert.ErrorContains(t, write(), "was changed meanwhile and stays as it is: start again")
	now, err := l.Strip("L-01")
	require.NoError(t, err)
	assert.Equal(t, theirs, now.Strip)

	mine, err = kept.read()
	require.NoError(t, err)
	mine.Calibration.KPaPerCount = 0.5
	write, err = kept.replace(mine)
	require.NoError(t, err)
	require.NoError(t, write())
	now, err = l.Strip("L-01")
	require.NoError(t, err)
	assert.Equal(t, *mine, now.Strip)

	mine.Calibration.KPaPerCount = -1
	_, err = kept.replace(mine)
	assert.ErrorContains(t, err, "kpa_per_count")
}
