//go:build unix

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/platform"
	"aplomb/device/sim"
)

// studioTime names the variable that puts the program into a studio at a time.
const studioTime = "APLOMB_TEST_STUDIO"

// somewhere is the world, or the studio that the tests put the program into.
func somewhere() outside {
	at := os.Getenv(studioTime)
	if at == "" {
		return theWorld()
	}
	now, err := time.Parse(time.RFC3339, at)
	if err != nil {
		panic(err)
	}
	s := &studio{setup: scene(now, os.Args)}
	s.clock.Set(now)
	return s.outside()
}

// The scenes are our own: nobody danced them. D7 tries three shoes: the shank of
// A made harder (B) changes little, the box made wider and squarer (C) much. D12
// comes back four times in the same shoe, the left side catching up.
var (
	shoesOfD7 = map[string][2]platform.Point{
		"A": {{-1.4, -6.6}, {-0.5, -6.2}},
		"B": {{-1.2, -6.0}, {-0.4, -5.7}},
		"C": {{-0.7, -0.9}, {0.2, -0.3}},
	}
	visitsOfD12 = map[string]struct{ over, share float64 }{ // of the left foot
		"2026-02-02": {-5.0, 0.38},
		"2026-02-16": {-4.2, 0.41},
		"2026-03-02": {-2.4, 0.45},
		"2026-03-16": {-1.2, 0.48},
	}
)

// scene is what a recording meets that begins now and is typed so.
func scene(now time.Time, typed []string) sim.Setup {
	after := func(flag string) string {
		if i := slices.Index(typed, flag); i >= 0 && i+1 < len(typed) {
			return typed[i+1]
		}
		return ""
	}
	world := sim.Setup{
		Seed: uint64(now.Unix()), RateHz: 100, Faults: sim.DefaultFaults(),
		Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.45, Rises: 5, SwaySD: 0.5, LoadSD: 0.02},
	}
	stands := shoesOfD7[after("--shoe")]
	if day, ok := visitsOfD12[now.Format(time.DateOnly)]; ok && after("--dancer") == "D12" {
		stands = [2]platform.Point{{-1.0, day.over}, {0.1, -0.8}}
		world.Dancer.LeftShare = day.share
	}
	for f := range world.Feet {
		world.Feet[f] = &sim.Foot{Stand: sim.Stand{CoPMM: stands[f], ScatterSD: 0.5}}
	}
	return world
}

// transcript is a block of README.md that is run as it stands. "# 2026-03-07"
// says which day it is; every command takes five minutes; a line "…" stands for
// lines left out.
var transcript = regexp.MustCompile("(?s)<!-- run -->\n```console\n(.*?)```\n")

func TestREADME(t *testing.T) {
	t.Parallel()
	const path = "../../README.md"
	readme, err := os.ReadFile(path)
	require.NoError(t, err)
	blocks := transcript.FindAllSubmatch(readme, -1)
	require.Len(t, blocks, 2, "a fitter's and a physiotherapist's")
	ran := make([]string, len(blocks))
	t.Run("blocks", func(t *testing.T) {
		for i, block := range blocks {
			t.Run(fmt.Sprint(i+1), func(t *testing.T) {
				t.Parallel()
				ran[i] = enact(t, string(block[1]))
			})
		}
	})
	if !*update {
		return
	}
	for i, block := range blocks {
		readme = bytes.Replace(readme, block[1], []byte(ran[i]), 1)
	}
	require.NoError(t, os.WriteFile(path, readme, 0o666))
}

// enact runs the commands of a transcript in a folder with two strips, and
// returns it as it ran.
func enact(t *testing.T, script string) string {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	now := time.Date(2026, 3, 7, 10, 0, 0, 0, time.UTC)
	var ran strings.Builder
	lines := strings.SplitAfter(script, "\n")
	for i := 0; i < len(lines) && lines[i] != ""; {
		line := lines[i]
		i++
		if day, ok := strings.CutPrefix(line, "# "); ok {
			date, err := time.Parse(time.DateOnly, strings.TrimSpace(day)[:len(time.DateOnly)])
			require.NoError(t, err)
			now = date.Add(10 * time.Hour)
			ran.WriteString(line)
			continue
		}
		command, ok := strings.CutPrefix(line, "$ ")
		require.True(t, ok, "neither a day nor a command: %q", line)
		ran.WriteString(line)
		for strings.HasSuffix(line, "\\\n") {
			line = lines[i]
			i++
			command += line
			ran.WriteString(line)
		}
		var want string
		for i < len(lines) && lines[i] != "" && !strings.HasPrefix(lines[i], "$ ") && !strings.HasPrefix(lines[i], "# ") {
			want += lines[i]
			i++
		}
		got := enter(t, dir, now, command)
		if now = now.Add(5 * time.Minute); alike(want, got) {
			got = want
		} else if !*update {
			assert.Equal(t, want, got, command)
		}
		ran.WriteString(got)
	}
	return ran.String()
}

// enter runs a command as a shell would, and returns what it prints.
func enter(t *testing.T, dir string, now time.Time, command string) string {
	sh := exec.CommandContext(t.Context(), "sh", "-c", command)
	sh.Dir = dir
	sh.Env = append(os.Environ(), studioTime+"="+now.Format(time.RFC3339),
		"APLOMB_LOGBOOK="+filepath.Join(dir, "book"), "TZ=UTC", "GORACE=atexit_sleep_ms=0")
	out, err := sh.CombinedOutput()
	require.NoError(t, err, "%s\n%s", command, out)
	return strings.ReplaceAll(string(out), dir+string(filepath.Separator), "")
}

// alike says whether what was printed is what was wanted, with lines left out
// where that has "…".
func alike(want, got string) bool {
	parts := strings.Split(want, "…\n")
	for i, p := range parts {
		parts[i] = regexp.QuoteMeta(p)
	}
	return regexp.MustCompile(`\A` + strings.Join(parts, "(?s:.*)") + `\z`).MatchString(got)
}
