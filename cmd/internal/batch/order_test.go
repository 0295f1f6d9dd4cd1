package batch_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/cmd/internal/batch"
)

// Values are returned in the order of the pieces, each once, for any durations.
func TestInOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 12).Draw(rt, "pieces")
		bad := rapid.IntRange(0, 12).Draw(rt, "bad")
		begun := map[int]bool{}
		var got []string
		work := func(_ context.Context, i int) (int, error) {
			if i == bad {
				return 0, errors.New("bad")
			}
			return i * i, nil
		}
		err := batch.InOrder(t.Context(), n, func(i int) { begun[i] = true }, work, func(i, v int, err error) error {
			got = append(got, fmt.Sprint(i, v, err))
			return nil
		})
		require.NoError(rt, err)
		require.Len(rt, got, n)
		require.Len(rt, begun, n)
		for i, said := range got {
			want := fmt.Sprint(i, i*i, nil)
			if i == bad {
				want = fmt.Sprint(i, 0, errors.New("bad"))
			}
			assert.Equal(rt, want, said)
		}
	})
}

// Pieces finished before the work is stopped are reported; the error of a stopped piece
// is not.
func TestInOrderStopped(t *testing.T) {
	if runtime.GOMAXPROCS(0) < 2 {
		t.Skip("one processor does one piece after the other")
	}
	ctx, stop := context.WithCancel(t.Context())
	var told []int
	work := func(ctx context.Context, i int) (int, error) {
		if i == 0 {
			<-ctx.Done()
			return 0, ctx.Err()
		}
		if i == 3 {
			stop()
		}
		return i, nil
	}
	err := batch.InOrder(ctx, 100, func(int) {}, work, func(i, _ int, err error) error {
		assert.NoError(t, err)
		told = append(told, i)
		return nil
	})
	assert.ErrorIs(t, err, context.Canceled)
	require.GreaterOrEqual(t, len(told), 3)
	assert.Equal(t, []int{1, 2, 3}, told[:3])
}

func TestInOrderFailsWithDone(t *testing.T) {
	full := errors.New("disk full")
	calls := 0
	err := batch.InOrder(t.Context(), 50, func(int) {}, func(context.Context, int) (int, error) { return 0, nil }, func(i, _ int, _ error) error {
		calls++
		if i == 2 {
			return full
		}
		return nil
	})
	assert.Equal(t, full, err)
	assert.Equal(t, 3, calls)
}
