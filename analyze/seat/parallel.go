package seat

import (
	"runtime"
	"sync"
)

// inParts divides n independent pieces of work among all processors: each does the pieces
// from up to but without to.
func inParts(n int, work func(from, to int)) {
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

// withOwnRoom returns f with room of its own for reading maps, so that several goroutines
// can read some at a time.
func (f *found) withOwnRoom() *found {
	own, p, g := *f, *f.problem, *f.problem.grid
	g.row, g.sums = make([]float64, len(g.row)), make([]sums, len(g.sums))
	p.grid, own.problem = &g, &p
	return &own
}
