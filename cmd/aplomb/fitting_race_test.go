//go:build unix && race

package main

import (
	"io"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
)

// What TestDemoIsFixedByItsSeed does, in a shorter fitting: the race detector
// makes the whole demo take half a minute.
func TestFittingIsFixedByItsSeed(t *testing.T) {
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
