//go:build unix

package main

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

// taken FILE.mcap adds a recording to the logbook, in a visit of its dancer on the day of
// the recording.
func taken(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: taken FILE.mcap")
	}
	path := ts.MkAbs(args[0])
	r, err := recording.Open(context.Background(), path)
	ts.Check(err)
	m := r.Meta()
	r.Close()
	l, err := logbook.Open(ts.Getenv("APLOMB_LOGBOOK"))
	ts.Check(err)
	defer l.Close()
	if err := l.AddDancer(logbook.Dancer{Code: m.Dancer}); !errors.Is(err, logbook.ErrExists) {
		ts.Check(err)
	}
	v, err := l.AddVisit(logbook.Visit{Dancer: m.Dancer, Day: logbook.DayOf(m.Started)})
	ts.Check(err)
	_, err = l.AddRecording(context.Background(), path, v.ID)
	ts.Check(err)
}

// A fitter enters a shoe with typing errors, and checks it before confirming.
func TestShoeAtATerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	env := []string{"APLOMB_LOGBOOK=" + filepath.Join(dir, "book")}
	x := onTerminal(t, dir, 100, 80, env, "shoe", "add", "A", "--padding", "gel")
	answer := func(question, keys, then string) {
		t.Helper()
		x.shows(question)
		x.types(keys + "\r")
		x.shows(then)
	}
	x.shows("Lengths are in mm")
	answer("platform, width:", "wide", `"wide" is no length`)
	answer("", "\x1b[A", "without control characters")
	answer("", "", "this one is needed")
	answer("", "0", "above 0")
	answer("", "900", "width and depth from 0.01 to 500")
	answer("", "36", "platform, depth:")
	answer("", "7/8in", "[rounded]:")
	answer("", "sq", "box (tapered, moderately tapered, square):")
	answer("", "x", `"x": one of tapered, moderately tapered, square`)
	answer("", "m", "crown, the height of the profile:")
	answer("", "2.4 cm", "shank (soft, medium, hard):")
	answer("", "soft", "shank, length (full, three-quarter):")
	answer("", "t", "vamp,") // padding was typed as a flag
	answer("", "", "wings,")
	answer("", "", "hours worn:")
	answer("", "-2", "0 or more")
	answer("", "4", "Is this right? [Y/n]")
	drawn := x.text()
	assert.Contains(t, drawn, "+ "+words.Kern+", ")
	assert.Contains(t, drawn, "big toe")
	assert.Contains(t, drawn, "platform         36 × 22.23 mm, squarish (exponent 4)")
	assert.NotContains(t, drawn, "padding:")

	// Once more: the crown is taken back, the shank another, all else stays.
	answer("", "what", "y or n")
	answer("", "n", "platform, width [36 mm]:")
	answer("", "", "platform, depth [22.23 mm]:")
	answer("", "22", "[squarish]:")
	answer("", "", "[moderately tapered]:")
	answer("", "", "profile [24 mm]:")
	answer("", "-", "shank (soft, medium, hard) [soft]:")
	answer("", "h", "[three-quarter]:")
	x.types("\r\r\r\r")
	x.shows("platform         36 × 22 mm, squarish (exponent 4)")
	x.types("y\r")
	require.Equal(t, exitDone, x.ends(), x.text())
	assert.Contains(t, x.text(), "shoe A added")

	l, err := logbook.Open(filepath.Join(dir, "book"))
	require.NoError(t, err)
	defer l.Close()
	s, err := l.Shoe("A")
	require.NoError(t, err)
	assert.Equal(t, [2]float64{36, 22}, s.PlatformMM)
	assert.Equal(t, 4.0, s.OutlineExponent)
	assert.Equal(t, "moderately tapered", s.Box)
	assert.Zero(t, s.CrownMM)
	assert.Equal(t, "hard", s.Shank)
	assert.Equal(t, "three-quarter", s.ShankLength)
	assert.Equal(t, "gel", s.Padding)
	assert.Equal(t, 4.0, s.HoursWorn)

	// Nobody is asked eleven things for a code that is taken, or to give up half way.
	x = onTerminal(t, dir, 100, 30, env, "shoe", "add", "a")
	require.Equal(t, exitNo, x.ends())
	assert.Contains(t, x.text(), "already in the logbook: aplomb shoe edit")
	assert.NotContains(t, x.text(), "platform, width")
	x = onTerminal(t, dir, 100, 30, env, "shoe", "add", "B")
	x.shows("platform, width:")
	x.types("36\r\x04")
	require.Equal(t, exitNo, x.ends())
	assert.Contains(t, strings.Join(strings.Fields(x.text()), " "), "no answer: nothing was changed")
	_, err = l.Shoe("B")
	assert.ErrorIs(t, err, logbook.ErrNotFound)
}
