//go:build unix && !race

package main

import (
	"os"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/demo"
)

// Equal recordings give equal numbers and an equal report, byte for byte, however busy the
// machine: both evaluations here disturb each other. TestDemo holds the recordings against
// their hashes.
func TestFittingIsFixedByItsSeed(t *testing.T) {
	t.Parallel()
	dirs := [2]string{t.TempDir(), t.TempDir()}
	_, err := demo.Record(t.Context(), t.Output(), dirs[0], 2, 1, withoutLines().line) // of one rise, a1 of two
	require.NoError(t, err)
	require.NoError(t, os.CopyFS(dirs[1], os.DirFS(dirs[0])))
	var said [2]string
	var done sync.WaitGroup
	for i, dir := range dirs {
		done.Go(func() {
			a1, b1 := dir+"/a1.mcap", dir+"/b1.mcap"
			said[i] = typed(t, "analyze", "--json", a1, b1) + typed(t, "compare", "--json", a1, b1)
			typed(t, "report", a1, b1, "--out", dir+"/report.html")
		})
	}
	done.Wait()
	assert.Equal(t, said[0], said[1])
	one, other := contents(t, dirs[0]), contents(t, dirs[1])
	assert.NotEmpty(t, one["report.html"])
	assert.True(t, one["report.html"] == other["report.html"], "the reports differ")
}
