//go:build unix

package demo_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/demo"
	"aplomb/device/sim"
)

// onlySo opens only so many lines.
func onlySo(many int) demo.OpenLine {
	return func(link string) (*sim.Line, error) {
		if many--; many >= 0 {
			return sim.OpenLine(link)
		}
		return nil, errors.New("no pseudo-terminal")
	}
}

// The bytes of the recordings are the same through pseudo-terminals and without,
// and that there are none is said once.
func TestRecordWithoutLines(t *testing.T) {
	t.Parallel()
	lines := map[string]demo.OpenLine{"lines": sim.OpenLine, "no line": onlySo(0), "one line": onlySo(1), "lines for one recording": onlySo(2)}
	dirs, said := map[string]string{}, map[string]*bytes.Buffer{}
	var done sync.WaitGroup
	for name, line := range lines {
		dir, w := t.TempDir(), &bytes.Buffer{}
		dirs[name], said[name] = dir, w
		done.Go(func() {
			paths, err := demo.Record(t.Context(), w, dir, 2, 1, line) // of one rise, a1 of two
			assert.NoError(t, err)
			assert.Len(t, paths, 4)
		})
	}
	done.Wait()
	for name, dir := range dirs {
		n := strings.Count(said[name].String(), "no pseudo-terminal can be opened here")
		if name == "lines" {
			assert.Zero(t, n)
			continue
		}
		assert.Equal(t, 1, n, name)
		for _, file := range []string{"a1.mcap", "b1.mcap", "b2.mcap", "a2.mcap", "A.toml", "B.toml", "left.toml", "right.toml"} {
			one, err := os.ReadFile(filepath.Join(dirs["lines"], file))
			require.NoError(t, err)
			other, err := os.ReadFile(filepath.Join(dir, file))
			require.NoError(t, err)
			assert.NotEmpty(t, one)
			assert.True(t, bytes.Equal(one, other), "%s: %s differs", name, file)
		}
	}
}
