//go:build unix && !race

package main

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The whole demo, once: its recordings are the bytes that its seed fixes, and its pictures
// those of the README, which were drawn on another day. The frames are handed over directly,
// which takes half the time; package demo tests that the bytes are the same through
// pseudo-terminals.
func TestDemo(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "demo")
	var stdout, stderr bytes.Buffer
	require.Equal(t, exitDone, withoutLines().run(t.Context(), []string{"demo", "--out", dir, "--seed", "1"}, &stdout, &stderr))
	assert.Equal(t, 1, strings.Count(stderr.String(), "no pseudo-terminal can be opened here"))
	said := stdout.String()
	made := contents(t, dir)
	for _, name := range []string{"a1.mcap", "a2.mcap", "b1.mcap", "b2.mcap", "report.html", "pictures/platforms.svg"} {
		assert.NotEmpty(t, made[name], name)
	}
	assert.Contains(t, said, "Over the box on both feet in B, behind in A")
	assert.Equal(t, 8, strings.Count(said, " lies, by the pad press, "), "in each of four recordings on both feet")
	for _, name := range []string{"a1", "a2", "b1", "b2"} {
		assert.Contains(t, typed(t, "check", dir+"/"+name+".mcap"), "mcap: whole\n")
	}
	assert.Contains(t, typed(t, "analyze", dir+"/a1.mcap"), "aborted")

	readmeShows(t, made)

	// The recordings stay the same bytes from version to version.
	if runtime.GOARCH == "amd64" {
		for name, want := range map[string]string{
			"a1.mcap": "aa79f38a1472c615b2588b00dd14d51765db6d580a199222cb9f10ff3e429be9",
			"a2.mcap": "607238f733a7b3d70100ac1e204833c57a83fc1a861c55cf3eb79f7c9eff3181",
			"b1.mcap": "86a1a1c515427571d1b7752e47c0be3337026df5e684466af606de43b66a953c",
			"b2.mcap": "e11647b401fe41377a399251cc3acf0a8d29c0084eb244a24e0e65717bcf4d6f",
		} {
			assert.Equal(t, want, fmt.Sprintf("%x", sha256.Sum256([]byte(made[name]))), name)
		}
	}

	// Asked for again, it leaves the first alone and says what to do.
	stdout.Reset()
	stderr.Reset()
	assert.Equal(t, exitNo, realEnvironment().run(t.Context(), []string{"demo", "--out", dir}, &stdout, &stderr))
	assert.Empty(t, stdout.String())
	assert.Equal(t, "aplomb: "+dir+" exists: move it away, or choose another folder, such as --out "+dir+"-2\n", stderr.String())
	assert.Equal(t, made["report.html"], contents(t, dir)["report.html"])
}

// metadata is the provenance in an SVG picture. The README's pictures have none:
// it changes with every version.
var metadata = regexp.MustCompile(`\n<metadata>.*?</metadata>`)

// readmeShows compares the README's pictures with those of the demo. The last digit of a
// place in them may depend on the processor.
func readmeShows(t *testing.T, demo map[string]string) {
	for _, name := range []string{"place.svg", "shoes-left.svg", "trace-a1.svg"} {
		require.Regexp(t, metadata, demo["pictures/"+name])
		drawn := metadata.ReplaceAllString(demo["pictures/"+name], "")
		path := filepath.Join("..", "..", "testdata", "readme", name)
		if *update {
			require.NoError(t, os.WriteFile(path, []byte(drawn), 0o644))
		}
		if runtime.GOARCH == "amd64" {
			shown, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.True(t, drawn == string(shown), "%s is not what the demo draws: go test ./cmd/aplomb -update, then look at it", path)
		}
	}
}
