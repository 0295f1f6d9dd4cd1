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
	for _, name := range []string{"a1", "a2", "b1", "b2"} {
		assert.Contains(t, typed(t, "check", dir+"/"+name+".mcap"), "mcap: whole\n")
	}
	assert.Contains(t, typed(t, "analyze", dir+"/a1.mcap"), "aborted")

	readmeShows(t, made)

	// The recordings stay the same bytes from version to version.
	if runtime.GOARCH == "amd64" {
		for name, want := range map[string]string{
			"a1.mcap": "18a10d92c798bbefd02df990a1c0c062b9939d7a2993beba982515f0dc287679",
			"a2.mcap": "ca1ccc594c1cdedaed422577d9741cc83461999c385276f5a4b202505b09c1dc",
			"b1.mcap": "87daa87dd909cc545c3b829841c85f471db7e6c722a925b328b5f01447ae4a57",
			"b2.mcap": "96ff9ae8c7b32083f7b6ad232802599f563146d9e1cb7cabffdaf664818040fb",
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
