// Package intake describes recordings before they are made, makes recordings from CSV
// files, and adds recordings to the logbook.
package intake

import (
	"context"
	"fmt"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
)

// Add adds a recording to a visit of the logbook. It does so even when ctx is done, which
// is how a recording ends.
func Add(ctx context.Context, folder *lookup.Folder, v logbook.Visit, path string) (r logbook.Recording, err error) {
	err = folder.With(func(l *logbook.Logbook) (err error) {
		r, err = l.AddRecording(context.WithoutCancel(ctx), path, v.ID)
		return err
	})
	return r, err
}

// LeftAt adds to err the path of a recording's file, and how to add it to the logbook.
// err is the reason why the recording, which was just made, is not in it.
func LeftAt(err error, v logbook.Visit, path string) error {
	return fmt.Errorf("%w; the recording is in %s: aplomb import %s --dancer %s --visit %s takes it in",
		err, path, text.Quoted(path), text.Quoted(v.Dancer), v.Name())
}

// Measure measures a recording of the logbook and stores the measures. It returns the
// result, and the comparison of that result alone, with the mounting effects estimated
// from the logbook. It does so even when ctx is done.
func Measure(ctx context.Context, folder *lookup.Folder, r logbook.Recording) (*measure.Result, *compare.Comparison, error) {
	result, err := analyze.File(context.WithoutCancel(ctx), r.Path, analyze.Options{Software: software.Provenance()})
	var kept []mounting.Row
	if err == nil {
		result.Recording.Dancer = r.Dancer // in the logbook's spelling
		err = folder.With(func(l *logbook.Logbook) (err error) {
			if err = l.PutMeasures(r.ID, result); err == nil {
				kept, err = l.MountingRows([]string{r.Dancer}, nil)
			}
			return err
		})
	}
	if err != nil {
		return nil, nil, fmt.Errorf("recording %d is in the logbook and could not be measured: %w", r.ID, err)
	}
	c, err := compare.Results([]*measure.Result{result}, compare.Options{Earlier: kept, Kept: true, Practice: true})
	return result, c, err
}
