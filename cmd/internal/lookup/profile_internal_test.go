package lookup

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/device"
)

// A result does not overwrite a profile that somebody else changed meanwhile.
func TestStripChangedMeanwhile(t *testing.T) {
	dir := t.TempDir()
	l, err := logbook.Open(dir)
	require.NoError(t, err)
	defer l.Close()
	s, err := device.ReadStrip(t.Context(), "../../aplomb/testdata/profiles/left.toml")
	require.NoError(t, err)
	require.NoError(t, l.AddStrip(*s))

	kept := ProfileInLogbook(&Folder{Named: dir}, "l-01")
	mine, err := kept.Read()
	require.NoError(t, err)
	require.Equal(t, s, mine)
	mine.Calibration.KPaPerCount = 0.5
	write, err := kept.Replace(mine)
	require.NoError(t, err)

	theirs := *s
	theirs.Mount.SeatSDMM = 0.4
	require.NoError(t, l.EditStrip(theirs))
	assert.ErrorContains(t, write(), "was changed meanwhile and stays as it is: start again")
	now, err := l.Strip("L-01")
	require.NoError(t, err)
	assert.Equal(t, theirs, now.Strip)

	mine, err = kept.Read()
	require.NoError(t, err)
	mine.Calibration.KPaPerCount = 0.5
	write, err = kept.Replace(mine)
	require.NoError(t, err)
	require.NoError(t, write())
	now, err = l.Strip("L-01")
	require.NoError(t, err)
	assert.Equal(t, *mine, now.Strip)

	mine.Calibration.KPaPerCount = -1
	_, err = kept.Replace(mine)
	assert.ErrorContains(t, err, "kpa_per_count")
}
