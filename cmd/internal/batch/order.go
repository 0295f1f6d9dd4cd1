package batch

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// event is a report from a worker about piece i of the work.
type event[T any] struct {
	i     int
	begun bool // work on it begins; otherwise it is done
	value T
	err   error
}

// InOrder does n independent pieces of work on all processors. It calls done for each in
// their order, as soon as it and those before it are done, and begun as work on a piece
// begins; both in the goroutine of the caller. It stops at the first error of done, and
// returns it.
//
// When ctx is done no further piece is begun; done is still called for the finished ones,
// and InOrder returns the error of ctx.
func InOrder[T any](ctx context.Context, n int, begun func(i int), work func(ctx context.Context, i int) (T, error), done func(i int, v T, err error) error) error {
	return inOrder(ctx, n, begun, done, func(ctx context.Context, i int, report func(event[T])) {
		report(event[T]{i: i, begun: true})
		v, err := work(ctx, i)
		report(event[T]{i: i, value: v, err: err})
	})
}

// inOrder is InOrder for work that reports its own progress. The work on piece i may
// report that others are done, and leave i to another worker.
func inOrder[T any](parent context.Context, n int, begun func(i int), done func(i int, v T, err error) error, work func(ctx context.Context, i int, report func(event[T]))) error {
	ctx, stop := context.WithCancel(parent)
	defer stop()
	events := make(chan event[T])
	var next atomic.Int64
	var workers sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			for i := int(next.Add(1)) - 1; i < n && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				work(ctx, i, func(e event[T]) { events <- e })
			}
		})
	}
	go func() {
		workers.Wait()
		close(events)
	}()

	var failed error
	finished, at := make([]*event[T], n), 0
	tell := func(e *event[T]) {
		if failed != nil || ctx.Err() != nil && e.err != nil {
			return // it may have failed because the work was stopped
		}
		if failed = done(e.i, e.value, e.err); failed != nil {
			stop()
		}
	}
	for e := range events {
		if e.begun {
			begun(e.i)
			continue
		}
		finished[e.i] = &e
		for ; at < n && finished[at] != nil; at++ {
			tell(finished[at])
			finished[at] = &event[T]{} // its value is no longer needed
		}
	}
	for ; at < n; at++ {
		if finished[at] != nil {
			tell(finished[at])
		}
	}
	if failed != nil {
		return failed
	}
	return parent.Err()
}
