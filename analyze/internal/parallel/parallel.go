// Package parallel does independent pieces of work on all processors.
package parallel

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does n pieces of work, each processor taking the next one as it is free. It starts
// no further piece once ctx is done, and returns its error then.
func Each(ctx context.Context, n int, work func(i int)) error {
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

// Parts divides n small pieces of work, which take about the same time, among the
// processors: one does the pieces from up to but without to.
func Parts(n int, work func(from, to int)) {
	parts := min(n, runtime.GOMAXPROCS(0))
	if parts <= 1 {
		work(0, n)
		return
	}
	var done sync.WaitGroup
	for i := range parts {
		done.Go(func() { work(i*n/parts, (i+1)*n/parts) })
	}
	done.Wait()
}
