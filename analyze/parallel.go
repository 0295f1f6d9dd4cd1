package analyze

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// inParallel does n independent pieces of work on all processors. It starts no
// further piece once ctx is done, and returns its error then.
func inParallel(ctx context.Context, n int, work func(i int)) error {
	var next atomic.Int64
	var done sync.WaitGroup
	for range runtime.NumCPU() {
		done.Go(func() {
			for i := int(next.Add(1)) - 1; i < n && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	done.Wait()
	return ctx.Err()
}
