package logbook

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/scale"
	"aplomb/device"
)

// checked returns a check of strip L-01 on the n-th of March.
func checked(n int, bias float64) scale.Check {
	return scale.Check{
		Strip: "L-01", Version: 1, Day: time.Date(2026, 3, n, 0, 0, 0, 0, time.UTC), Pass: bias < 0.05, Presses: 5, Bias: bias, RMSLoad: math.Abs(bias) + 0.01,
		RMSCoPMM: 0.3, LoadU: 0.01, LimitLoad: 0.05, LimitCoPMM: 1,
	}
}

func TestStripKeepsItsChecks(t *testing.T) {
	l := begin(t)
	s := *strip(device.Left)
	_, err := l.AddStripCheck(s, checked(1, 0.01))
	oneLine(t, err, ErrNotFound, "L-01")
	require.NoError(t, l.AddStrip(s))
	all, err := l.StripChecks("L-01")
	require.NoError(t, err)
	assert.Empty(t, all)
	for _, c := range []scale.Check{checked(9, 0.06), checked(1, -0.01)} {
		version, err := l.AddStripCheck(s, c)
		require.NoError(t, err)
		assert.Equal(t, 1, version)
	}
	all, err = l.StripChecks("l-01")
	require.NoError(t, err)
	assert.Equal(t, []scale.Check{checked(1, -0.01), checked(9, 0.06)}, all, "by day")

	// A version that was checked stays what it was, though nothing was recorded with it.
	recalibrated := s
	recalibrated.Calibration.KPaPerCount = 0.8
	_, err = l.AddStripCheck(recalibrated, checked(10, 0))
	oneLine(t, err, ErrNotFound, "L-01", "profile")
	require.NoError(t, l.EditStrip(recalibrated))
	versions, err := l.StripVersions("L-01")
	require.NoError(t, err)
	require.Len(t, versions, 2)
	assert.Equal(t, 0.75, versions[0].Calibration.KPaPerCount)
	noCoP := checked(10, 0)
	noCoP.RMSCoPMM, noCoP.Version = math.NaN(), 2
	version, err := l.AddStripCheck(recalibrated, noCoP)
	require.NoError(t, err)
	assert.Equal(t, 2, version)
	all, err = l.StripChecks("")
	require.NoError(t, err)
	require.Len(t, all, 3)
	assert.True(t, math.IsNaN(all[2].RMSCoPMM))
	assert.Equal(t, 2, all[2].Version)
	c, err := l.Contents()
	require.NoError(t, err)
	assert.Equal(t, 3, c.StripChecks)

	// Its checks go with the strip.
	require.NoError(t, l.RemoveStrip("L-01"))
	c, err = l.Contents()
	require.NoError(t, err)
	assert.Equal(t, Contents{}, c)
	_, err = l.StripChecks("L-01")
	oneLine(t, err, ErrNotFound, "L-01")
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)
}

func TestImpossibleChecksAreRefused(t *testing.T) {
	l := begin(t)
	s := *strip(device.Left)
	require.NoError(t, l.AddStrip(s))
	for name, spoil := range map[string]func(*scale.Check){
		"no press":    func(c *scale.Check) { c.Presses = 0 },
		"no day":      func(c *scale.Check) { c.Day = time.Time{} },
		"no bias":     func(c *scale.Check) { c.Bias = math.NaN() },
		"infinite":    func(c *scale.Check) { c.RMSLoad = math.Inf(1) },
		"uncertain":   func(c *scale.Check) { c.LoadU = -0.1 },
		"no limit":    func(c *scale.Check) { c.LimitLoad = 0 },
		"less than 0": func(c *scale.Check) { c.Bias = -1.5 },
	} {
		c := checked(1, 0)
		spoil(&c)
		_, err := l.AddStripCheck(s, c)
		require.ErrorIs(t, err, ErrInvalid, name)
	}
}

// A strip known only from a dancer's recordings stays with its checks when the dancer is
// erased, because none of its data are the dancer's.
func TestChecksOutlastTheDancer(t *testing.T) {
	l := begin(t)
	keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	_, err := l.AddStripCheck(*strip(device.Left), checked(1, 0.01))
	require.NoError(t, err)
	_, err = l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	strips, err := l.Strips()
	require.NoError(t, err)
	require.Len(t, strips, 1, "the right strip went with the recording")
	assert.Equal(t, "L-01", strips[0].Name)
	assert.False(t, strips[0].Used)
	all, err := l.StripChecks("L-01")
	require.NoError(t, err)
	assert.Equal(t, []scale.Check{checked(1, 0.01)}, all)
}

// A backup contains the checks; a logbook rebuilt from its recordings does not, and
// reports it.
func TestChecksInBackupAndRebuilding(t *testing.T) {
	l := begin(t)
	keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	_, err := l.AddStripCheck(*strip(device.Left), checked(1, 0.01))
	require.NoError(t, err)
	dir := filepath.Join(t.TempDir(), "backup")
	require.NoError(t, l.Backup(bg, dir))
	copied := reopen(t, dir)
	all, err := copied.StripChecks("")
	require.NoError(t, err)
	assert.Equal(t, []scale.Check{checked(1, 0.01)}, all)

	require.NoError(t, l.Close())
	require.NoError(t, os.Remove(filepath.Join(l.Dir(), database)))
	r, err := Rebuild(bg, l.Dir())
	require.NoError(t, err)
	assert.Contains(t, r.Lost, "checks of strips with known weights, and how strips agreed with reference instruments")
	back := reopen(t, l.Dir())
	all, err = back.StripChecks("L-01")
	require.NoError(t, err)
	assert.Empty(t, all)
}

// A logbook of the first version gets an empty list, and keeps checks from then on.
func TestChecksInALogbookOfTheFirstVersion(t *testing.T) {
	l := reopen(t, version2(t))
	all, err := l.StripChecks("")
	require.NoError(t, err)
	assert.Empty(t, all)
	strips, err := l.Strips()
	require.NoError(t, err)
	c := checked(1, 0.01)
	c.Strip = strips[0].Name
	_, err = l.AddStripCheck(strips[0].Strip, c)
	require.NoError(t, err)
	all, err = l.StripChecks(c.Strip)
	require.NoError(t, err)
	c.Version = strips[0].Version
	assert.Equal(t, []scale.Check{c}, all)
}

func TestStripUses(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	r := keep(t, l, v, about("D7", "", shoe("A")))
	recalibrated := *strip(device.Left)
	recalibrated.Calibration.KPaPerCount = 0.8
	require.NoError(t, l.EditStrip(recalibrated))
	uses, err := l.StripUses([]Recording{r}, device.Left)
	require.NoError(t, err)
	assert.Equal(t, []scale.Use{{Foot: device.Left, Strip: strip(device.Left), Day: time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)}}, uses, "with the profile of the recording")
}
