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

// The whole demo, once: TestFittingIsFixedByItsSeed says that its bytes are its
// seed's, and the README's pictures were drawn on another day.
func TestDemo(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "demo")
	said := typed(t, "demo", "--out", dir, "--seed", "1")
	made := contents(t, dir)
	for _, name := range []string{"a1.mcap", "a2.mcap", "b1.mcap", "b2.mcap", "report.html", "pictures/platforms.svg"} {
		assert.NotEmpty(t, made[name], name)
	}
	assert.Contains(t, said, "Shoe B gets the dancer over the box")
	assert.Equal(t, 8, strings.Count(said, " lies, by the pad press, "), "in each of four recordings on both feet")
	for _, name := range []string{"a1", "a2", "b1", "b2"} {
		assert.Contains(t, typed(t, "check", dir+"/"+name+".mcap"), "mcap: whole\n")
	}
	assert.Contains(t, typed(t, "analyze", dir+"/a1.mcap"), "aborted")

	readmeShows(t, made)

	// The recordings stay the same bytes from version to version.
	if runtime.GOARCH == "amd64" {
		for name, want := range map[string]string{
			"a1.mcap": "4bdda4fdf241eb0311ee33da983e2f1c082d053e220efd36d631562753bbc76e",
			"a2.mcap": "cb14880ed2d789f238245970586d3a947e6d40e6cdf6d1797487683581a745d9",
			"b1.mcap": "6c8860acb5c1daa4ecec2816c3568dac11722b13957f09df5663cdaaf62c3298",
			"b2.mcap": "e5dce2d463e237ccb79225d3b35afa47b3cdcb12f958c5ad19fe9d7e47bc0219",
		} {
			assert.Equal(t, want, fmt.Sprintf("%x", sha256.Sum256([]byte(made[name]))), name)
		}
	}

	// Asked for again, it leaves the first alone and says what to do.
	var stdout, stderr bytes.Buffer
	assert.Equal(t, exitNo, realEnvironment().run(t.Context(), []string{"demo", "--out", dir}, &stdout, &stderr))
	assert.Empty(t, stdout.String())
	assert.Equal(t, "aplomb: "+dir+" exists: move it away, or choose another folder, such as --out "+dir+"-2\n", stderr.String())
	assert.Equal(t, made["report.html"], contents(t, dir)["report.html"])
}

// metadata is the provenance in an SVG picture. The README's pictures have none:
// it changes with every version.
var metadata = regexp.MustCompile(`\n<metadata>.*?</metadata>`)

// readmeShows holds the README's pictures against those of the demo. The last
// digit of a place in them may depend on the processor.
func readmeShows(t *testing.T, demo map[string]string) {
	for _, name := range []string{"platforms.svg", "shoes-left.svg", "trace-a1.svg"} {
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
