//go:build unix && !race

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// transcript is a block of a page that is run unchanged. "# 2026-03-07" says
// which day it is; every command takes five minutes; a line "…" stands for
// lines left out, and … within a line for the rest of a word.
var transcript = regexp.MustCompile("(?s)<!-- run -->\n```console\n(.*?)```\n")

// The guide's transcripts equal the program's output. -update replaces them by it.
func TestTranscripts(t *testing.T) {
	t.Parallel()
	pages, err := filepath.Glob("guide/*.md")
	require.NoError(t, err)
	run := map[string]int{}
	for _, path := range append(pages, "../../README.md") {
		page, err := os.ReadFile(path)
		require.NoError(t, err)
		blocks := transcript.FindAllSubmatch(page, -1)
		run[filepath.Base(path)] = len(blocks)
		ran := make([]string, len(blocks))
		t.Run(filepath.Base(path), func(t *testing.T) {
			t.Parallel()
			for i, block := range blocks {
				t.Run(fmt.Sprint(i+1), func(t *testing.T) {
					t.Parallel()
					ran[i] = enact(t, string(block[1]))
				})
			}
			t.Cleanup(func() {
				if !*update || len(blocks) == 0 {
					return
				}
				for i, block := range blocks {
					page = bytes.Replace(page, block[1], []byte(ran[i]), 1)
				}
				assert.NoError(t, os.WriteFile(path, page, 0o666))
			})
		})
	}
	assert.Equal(t, 2, run["fitting.md"], "a guided fitting, and a fitter's hour without a guide")
	assert.Equal(t, 1, run["clinic.md"], "a physiotherapist's six weeks")
	assert.Equal(t, 1, run["study.md"], "a study from its plan to the export")
}

// Links and pictures of the pages lead to existing files.
func TestPagesLinkToWhatIsThere(t *testing.T) {
	t.Parallel()
	pages, err := filepath.Glob("guide/*.md")
	require.NoError(t, err)
	target := regexp.MustCompile(`\]\(([^)]+)\)|src="([^"]+)"`)
	for _, path := range append(pages, "../../README.md", "../../DEVELOPERS.md", "../../analyze/VALIDATION.md") {
		page, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, m := range target.FindAllStringSubmatch(string(page), -1) {
			if to := m[1] + m[2]; !strings.Contains(to, "://") {
				assert.FileExists(t, filepath.Join(filepath.Dir(path), to), "in %s", path)
			}
		}
	}
}

// enact runs the commands of a transcript in a folder with two strips, and returns it
// with their output.
func enact(t *testing.T, script string) string {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	if strings.Contains(script, "manifest.csv") {
		guideStudy.write(t, dir)
	}
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

// enter runs a command as a shell would, and returns its output.
func enter(t *testing.T, dir string, now time.Time, command string) string {
	sh := exec.CommandContext(t.Context(), "sh", "-c", command)
	sh.Dir = dir
	sh.Env = append(os.Environ(), simulatedTime+"="+now.Format(time.RFC3339),
		"APLOMB_LOGBOOK="+filepath.Join(dir, "book"), "TZ=UTC", "GORACE=atexit_sleep_ms=0")
	out, err := sh.CombinedOutput()
	require.NoError(t, err, "%s\n%s", command, out)
	return strings.ReplaceAll(string(out), dir+string(filepath.Separator), "")
}

// alike reports whether output matches the expected text, in which "…" stands for any
// lines.
func alike(want, got string) bool {
	pattern := regexp.QuoteMeta(want)
	pattern = strings.ReplaceAll(pattern, "…\n", "(?s:.*)")
	pattern = strings.ReplaceAll(pattern, "…", `\S*`)
	return regexp.MustCompile(`\A` + pattern + `\z`).MatchString(got)
}
