package parallel_test

import (
	"context"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/internal/parallel"
)

func TestEveryPieceIsDoneOnce(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 100} {
		each, parts := make([]int, n), make([]int, n)
		assert.NoError(t, parallel.Each(t.Context(), n, func(i int) { each[i]++ }))
		parallel.Parts(n, func(from, to int) {
			for i := from; i < to; i++ {
				parts[i]++
			}
		})
		for i := range n {
			assert.Equal(t, [2]int{1, 1}, [2]int{each[i], parts[i]}, "piece %d of %d", i, n)
		}
	}
}

func TestEachEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var begun atomic.Int64
	err := parallel.Each(ctx, 1_000_000, func(int) {
		begun.Add(1)
		cancel()
	})
	assert.ErrorIs(t, err, context.Canceled)
	assert.Less(t, begun.Load(), int64(1_000_000))
}
