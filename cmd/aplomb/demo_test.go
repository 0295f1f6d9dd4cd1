//go:build unix

package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// typed runs a command line, which must end well, and returns what it printed.
func typed(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	require.Equal(t, exitDone, run(t.Context(), args, &stdout, &stderr), "aplomb %s: %s", strings.Join(args, " "), &stderr)
	return stdout.String()
}

// The seed fixes every byte of the demo, however busy the machine: both runs
// here disturb each other.
func TestDemoIsFixedByItsSeed(t *testing.T) {
	if underRace {
		t.Skip("takes half a minute with the race detector; TestFittingIsFixedByItsSeed does the same on less")
	}
	t.Parallel()
	var dirs, said [2]string
	for i := range dirs {
		dirs[i] = filepath.Join(t.TempDir(), "demo")
	}
	t.Run("twice", func(t *testing.T) {
		for i := range dirs {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				said[i] = strings.ReplaceAll(typed(t, "demo", "--out", dirs[i], "--seed", "2"), dirs[i], "demo")
			})
		}
	})
	require.NotEmpty(t, said[0])
	assert.Equal(t, said[0], said[1])
	one, other := contents(t, dirs[0]), contents(t, dirs[1])
	for name, bytes := range one {
		assert.True(t, bytes == other[name], "%s differs", name)
	}
	assert.Len(t, other, len(one))
	for _, name := range []string{"a1.mcap", "a2.mcap", "b1.mcap", "b2.mcap", "report.html", "pictures/platforms.svg"} {
		assert.NotEmpty(t, one[name], name)
	}
	for _, command := range []string{"analyze", "compare"} {
		var out [2]string
		for i, dir := range dirs {
			out[i] = typed(t, command, "--json", dir+"/a1.mcap", dir+"/b1.mcap", dir+"/b2.mcap", dir+"/a2.mcap")
		}
		assert.Equal(t, out[0], out[1])
	}
	assert.Contains(t, said[0], "Shoe B gets the dancer over the box")
	for _, name := range []string{"a1", "a2", "b1", "b2"} {
		assert.Contains(t, typed(t, "check", dirs[0]+"/"+name+".mcap"), "mcap: whole\n")
	}
	assert.Contains(t, typed(t, "analyze", dirs[0]+"/a1.mcap"), "aborted")

	// Asked for again, it leaves the first alone and says what to do.
	var stdout, stderr bytes.Buffer
	assert.Equal(t, exitNo, run(t.Context(), []string{"demo", "--out", dirs[0]}, &stdout, &stderr))
	assert.Empty(t, stdout.String())
	assert.Equal(t, "aplomb: "+dirs[0]+" exists: move it away, or choose another folder, such as --out "+dirs[0]+"-2\n", stderr.String())
	assert.Equal(t, one["report.html"], contents(t, dirs[0])["report.html"])
}

// contents reads every file under dir, by its path from there.
func contents(t *testing.T, dir string) map[string]string {
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		all[name] = string(b)
		return err
	}))
	return all
}

// What the demo does at once it does here too, in a shorter fitting.
func TestFittingIsFixedByItsSeed(t *testing.T) {
	if !underRace {
		t.Skip("TestDemoIsFixedByItsSeed does more")
	}
	t.Parallel()
	var dirs [2]string
	var done sync.WaitGroup
	for i := range dirs {
		dirs[i] = t.TempDir()
		done.Go(func() {
			_, err := recordFitting(t.Context(), io.Discard, dirs[i], 2, 1)
			assert.NoError(t, err)
		})
	}
	done.Wait()
	one, other := contents(t, dirs[0]), contents(t, dirs[1])
	assert.Len(t, one, 8)
	for name, bytes := range one {
		assert.True(t, bytes == other[name], "%s differs", name)
	}
}
