package logbook

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/device"
)

// agreed returns the agreement of strip L-01 on the n-th of March, with one reference
// file each day.
func agreed(n int) measure.Agreement {
	return measure.Agreement{
		Strip: "L-01", Version: 1, StripSHA256: content(strip(device.Left)), Day: time.Date(2026, 3, n, 0, 0, 0, 0, time.UTC), Instrument: "plate",
		Reference: strings.Repeat("a", 64), Evidence: measure.EvidencePress,
		Measures: []measure.Agreed{{Measure: measure.Over, Holds: 12, Bias: -0.1, Lower: -0.9, Upper: 0.7}, {Measure: measure.Load, Holds: 12, Bias: 3, Lower: -5, Upper: 11}},
	}
}

// content returns provenance's text of a strip's profile.
func content(s *device.Strip) string {
	p, a := &measure.Provenance{}, shoe("A")
	provenance.Add(p, measure.Input{}, [2]*device.Side{{Strip: s, Shoe: &a}})
	return p.Strips[0].SHA256
}

func TestStripKeepsItsAgreements(t *testing.T) {
	l := begin(t)
	s := *strip(device.Left)
	_, err := l.AddAgreement(s, agreed(1))
	oneLine(t, err, ErrNotFound, "L-01")
	made := keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	with := agreed(9)
	with.Recording, with.Simulated = made.ID, true
	for _, a := range []measure.Agreement{with, agreed(1)} {
		version, err := l.AddAgreement(s, a)
		require.NoError(t, err)
		assert.Equal(t, 1, version)
	}
	all, err := l.Agreements("l-01")
	require.NoError(t, err)
	assert.Equal(t, []measure.Agreement{agreed(1), with}, all, "by day")
	again := agreed(9)
	again.Measures = again.Measures[:1]
	_, err = l.AddAgreement(s, again)
	require.NoError(t, err)
	_, err = l.AddAgreement(s, with)
	require.NoError(t, err)
	all, err = l.Agreements("")
	require.NoError(t, err)
	assert.Equal(t, []measure.Agreement{agreed(1), with}, all, "the last of one day and file counts")

	// What was kept by mistake is removed: of that strip, file and day.
	for _, c := range []struct {
		strip, reference string
		day              Day
		removed          int64
	}{{"R-01", with.Reference, "2026-03-09", 0}, {"L-01", strings.Repeat("b", 64), "2026-03-09", 0}, {"L-01", with.Reference, "2026-03-08", 0}, {"l-01", with.Reference, "2026-03-09", 1}} {
		removed, err := l.RemoveAgreements(c.strip, c.reference, c.day)
		require.NoError(t, err)
		assert.Equal(t, c.removed, removed, "%v", c)
	}
	_, err = l.AddAgreement(s, with)
	require.NoError(t, err)

	// A version that was compared with a reference is not changed.
	recalibrated := s
	recalibrated.Calibration.KPaPerCount = 0.8
	_, err = l.AddAgreement(recalibrated, agreed(2))
	oneLine(t, err, ErrNotFound, "L-01", "profile")
	require.NoError(t, l.EditStrip(recalibrated))
	versions, err := l.StripVersions("L-01")
	require.NoError(t, err)
	require.Len(t, versions, 2)

	// What is of the strip outlasts the dancer, without the recording.
	_, err = l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	all, err = l.Agreements("L-01")
	require.NoError(t, err)
	with.Recording = 0
	assert.Equal(t, []measure.Agreement{agreed(1), with}, all)
	c, err := l.Contents()
	require.NoError(t, err)
	assert.Equal(t, 2, c.Agreements)
	require.NoError(t, l.RemoveStrip("L-01"))
	c, err = l.Contents()
	require.NoError(t, err)
	assert.Zero(t, c.Agreements)
	_, err = l.Agreements("L-01")
	oneLine(t, err, ErrNotFound, "L-01")
}

func TestImpossibleAgreementsAreRefused(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddStrip(*strip(device.Left)))
	for name, spoil := range map[string]func(*measure.Agreement){
		"no day":       func(a *measure.Agreement) { a.Day = time.Time{} },
		"no reference": func(a *measure.Agreement) { a.Reference = "" },
		"no bias":      func(a *measure.Agreement) { a.Measures[0].Bias = math.NaN() },
		"no limit":     func(a *measure.Agreement) { a.Measures[0].Upper = math.Inf(1) },
		"exchanged":    func(a *measure.Agreement) { a.Measures[0].Upper = -2 },
		"two holds":    func(a *measure.Agreement) { a.Measures[0].Holds = 2 },
	} {
		a := agreed(1)
		spoil(&a)
		_, err := l.AddAgreement(*strip(device.Left), a)
		require.ErrorIs(t, err, ErrInvalid, name)
	}
}
