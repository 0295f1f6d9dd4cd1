//go:build unix && !race

package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/software"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// newSimulation starts on 14 March 2026 at ten, local time. Its dancer rises twice.
func newSimulation(t *testing.T) *simulation {
	s := &simulation{setup: sim.Setup{Seed: 3, RateHz: 100, Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.48, Rises: 2}, Faults: sim.DefaultFaults()}}
	for f := range s.setup.Feet {
		s.setup.Feet[f] = &sim.Foot{}
	}
	s.clock.Set(time.Date(2026, 3, 14, 10, 0, 0, 0, time.Local))
	return s
}

// typed runs a command line, which must succeed, and returns all of its output.
func (s *simulation) typed(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	require.Equal(t, exitDone, s.environment().run(t.Context(), args, &stdout, &stderr), "aplomb %s: %s", strings.Join(args, " "), &stderr)
	return stdout.String() + stderr.String()
}

// In the same environment record writes the same recording and the same output, byte for
// byte.
func TestRecordDependsOnlyOnItsEnvironment(t *testing.T) {
	t.Parallel()
	var said [2]string
	var files [2]map[string]string
	for i := range said {
		dir := t.TempDir()
		said[i] = strings.ReplaceAll(newSimulation(t).typed(t,
			"record", "--strip", "testdata/profiles/left.toml", "--strip", "testdata/profiles/right.toml", "--shoe", "testdata/profiles/A.toml",
			"--left", "/dev/ttyUSB0", "--right", "/dev/ttyUSB1", "--dancer", "D7", "--out", filepath.Join(dir, "a.mcap"),
		), dir, "")
		files[i] = contents(t, dir)
	}
	assert.Contains(t, said[0], "relevé 2, right: hold ")
	assert.Contains(t, said[0], "all on the disk within 0.5 s")
	assert.Equal(t, said[0], said[1])
	assert.True(t, files[0]["a.mcap"] == files[1]["a.mcap"], "the recordings differ")
}

// With a logbook a fitter names codes: the recording is added to the visit with its
// conditions and is measured, and the plan advances.
func TestRecordIntoAVisit(t *testing.T) {
	t.Parallel()
	var said [2]string
	for i := range said {
		dir := filepath.Join(t.TempDir(), "book")
		s := newSimulation(t)
		aplomb := func(args ...string) string {
			return strings.ReplaceAll(s.typed(t, append(args, "--logbook", dir)...), dir, "BOOK")
		}
		aplomb("dancer", "add", "D7")
		aplomb("strip", "add", "testdata/profiles/left.toml", "testdata/profiles/right.toml")
		aplomb("shoe", "add", "A", "--file", "testdata/profiles/A.toml")
		aplomb("shoe", "add", "B", "--file", "testdata/profiles/B.toml")
		aplomb("visit", "add", "--dancer", "D7", "--support", "barre", "--mass-kg", "52", "--pain-before", "1")
		aplomb("visit", "plan", "--dancer", "D7", "--shoes", "A,B", "--releves", "2", "--mountings", "1", "--seed", "1")
		for _, shoe := range []string{"B", "A"} {
			said[i] += aplomb("record", "--dancer", "d7", "--visit", "today", "--shoe", shoe, "--left", "/dev/ttyUSB0", "--right", "/dev/ttyUSB1")
			s.clock.Set(s.clock.Now().Add(5 * time.Minute))
		}
		said[i] += aplomb("show") + aplomb("track", "--dancer", "D7") + aplomb("compare", "--dancer", "D7", "--visit", "today", "--details")

		l, err := logbook.Open(dir)
		require.NoError(t, err)
		r, err := l.Recording(1)
		require.NoError(t, err)
		require.NoError(t, l.Close())
		assert.Equal(t, "2026-03-14", r.VisitName)
		assert.Equal(t, "barre", r.Support)
		assert.Equal(t, 52.0, r.MassKG)
		assert.Equal(t, logbook.Current, r.Measures)
		assert.Equal(t, software.Version, r.Version)
		file, err := recording.Open(t.Context(), r.Path)
		require.NoError(t, err)
		assert.Equal(t, "D7", file.Meta().Dancer, "as the logbook spells it")
		assert.Equal(t, "2026-03-14", file.Meta().Visit)
		require.NoError(t, file.Close())
	}
	assert.Regexp(t, `(?m)^recorded: \d+\.\d s; left \d+ frames; right \d+ frames; all on the disk within 0\.5 s$`, said[0])
	assert.Contains(t, said[0], "recording 1 in the logbook: D7, 2026-03-14, shoe B\nleft:  2 relevés, over ")
	assert.Contains(t, said[0], "recording 2 in the logbook: D7, 2026-03-14, shoe A\n")
	assert.Contains(t, said[0], "From recordings 1 and 2 in the logbook")
	assert.Equal(t, said[0], said[1])
}

// A recording that the logbook refuses stays in place, and the output names the command
// for it. Here the logbook already has it, byte for byte.
func TestRecordingThatIsNotTakenInStays(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := newSimulation(t)
	began := s.clock.Now()
	s.typed(t, "dancer", "add", "D 7", "--logbook", dir+"/book")
	s.typed(t, "visit", "add", "--dancer", "D 7", "--logbook", dir+"/book")
	record := func(out string) []string {
		s.clock.Set(began)
		return []string{"record", "--dancer", "D 7", "--visit", "today", "--logbook", dir + "/book", "--out", out, "--left", "/dev/ttyUSB0",
			"--strip", "testdata/profiles/left.toml", "--shoe", "testdata/profiles/A.toml"}
	}
	s.typed(t, record(dir+"/a.mcap")...)
	var stdout, stderr bytes.Buffer
	assert.Equal(t, exitNo, s.environment().run(t.Context(), record(dir+"/b.mcap"), &stdout, &stderr))
	assert.Regexp(t, `(?m)^aplomb: .*b\.mcap: already in the logbook as .*; the recording is in \S+b\.mcap: aplomb import \S+b\.mcap --dancer 'D 7' --visit 2026-03-14 takes it in$`, stderr.String())
	assert.Contains(t, stdout.String(), "b.mcap: ")
	assert.FileExists(t, dir+"/b.mcap")
}
