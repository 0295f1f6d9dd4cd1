package batch

import (
	"context"
	"io"

	"aplomb/analyze/check"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/software"
)

// Check checks the recordings at paths side by side and calls done for each in their order,
// as soon as it and those before it are done. It writes progress to w. When ctx is done,
// done is called for what was finished, and Check returns the error of ctx.
func Check(ctx context.Context, w io.Writer, paths []string, done func(i int, r *check.Report, err error) error) error {
	progress := console.NewProgress(w)
	defer progress.Clear()
	pace := newPace(progress, "checking", paths, paths)
	work := func(ctx context.Context, i int) (*check.Report, error) {
		return check.File(ctx, paths[i], software.Provenance())
	}
	return InOrder(ctx, len(paths), pace.begin, work, func(i int, r *check.Report, err error) error {
		pace.finish(i)
		progress.Clear()
		return done(i, r, err)
	})
}
