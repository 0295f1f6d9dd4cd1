//go:build unix && !race

package main

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/cmd/internal/demo"
	"aplomb/device/sim"
)

// The seed fixes every byte of a fitting and of what is made of it, however busy
// the machine: both here disturb each other.
func TestFittingIsFixedByItsSeed(t *testing.T) {
	t.Parallel()
	var dirs [2]string
	var done sync.WaitGroup
	for i := range dirs {
		dirs[i] = t.TempDir()
		done.Go(func() {
			_, err := demo.Record(t.Context(), t.Output(), dirs[i], 2, 1, sim.OpenLine) // of one rise, a1 of two
			assert.NoError(t, err)
		})
	}
	done.Wait()
	var said [2]string
	for i, dir := range dirs {
		a1, b1 := dir+"/a1.mcap", dir+"/b1.mcap"
		said[i] = typed(t, "analyze", "--json", a1, b1) + typed(t, "compare", "--json", a1, b1)
		typed(t, "report", a1, b1, "--out", dir+"/report.html")
	}
	assert.Equal(t, said[0], said[1])
	one, other := contents(t, dirs[0]), contents(t, dirs[1])
	assert.Len(t, other, len(one))
	for _, name := range []string{"a1.mcap", "a2.mcap", "b1.mcap", "b2.mcap", "report.html"} {
		assert.NotEmpty(t, one[name], name)
	}
	for name, bytes := range one {
		assert.True(t, bytes == other[name], "%s differs", name)
	}
}
