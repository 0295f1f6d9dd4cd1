//go:build unix && !race

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The seed fixes every byte of the demo, however busy the machine: both runs
// here disturb each other.
func TestDemoIsFixedByItsSeed(t *testing.T) {
	t.Parallel()
	var dirs, said [2]string
	for i := range dirs {
		dirs[i] = filepath.Join(t.TempDir(), "demo")
	}
	t.Run("twice", func(t *testing.T) {
		for i := range dirs {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				said[i] = strings.ReplaceAll(typed(t, "demo", "--out", dirs[i], "--seed", "1"), dirs[i], "demo")
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

	readmeShows(t, one)

	// Asked for again, it leaves the first alone and says what to do.
	var stdout, stderr bytes.Buffer
	assert.Equal(t, exitNo, theWorld().run(t.Context(), []string{"demo", "--out", dirs[0]}, &stdout, &stderr))
	assert.Empty(t, stdout.String())
	assert.Equal(t, "aplomb: "+dirs[0]+" exists: move it away, or choose another folder, such as --out "+dirs[0]+"-2\n", stderr.String())
	assert.Equal(t, one["report.html"], contents(t, dirs[0])["report.html"])
}

// readmeShows holds the README's pictures against those of the demo. The last
// digit of a place in them may depend on the processor.
func readmeShows(t *testing.T, demo map[string]string) {
	for _, name := range []string{"platforms.svg", "shoes-left.svg", "trace-a1.svg"} {
		path := filepath.Join("..", "..", "testdata", "readme", name)
		if *update {
			require.NoError(t, os.WriteFile(path, []byte(demo["pictures/"+name]), 0o644))
		}
		if runtime.GOARCH == "amd64" {
			shown, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.True(t, demo["pictures/"+name] == string(shown), "%s is not what the demo draws: go test ./cmd/aplomb -update, then look at it", path)
		}
	}
}
