package batch

import (
	"context"
	"fmt"
	"io"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// MeasureDue measures the recordings that f selects in the logbook and whose
// measures are stale or missing. It writes a line for each to out, and progress and
// failures to w, and returns how many could not be measured. What is measured when
// ctx is done stays in the logbook.
func MeasureDue(ctx context.Context, out, w io.Writer, l *logbook.Logbook, f logbook.Filter) (failed int, err error) {
	all, err := l.Recordings(f)
	if err != nil {
		return 0, err
	}
	var due []logbook.Recording
	for _, r := range all {
		if r.Measures != logbook.Current {
			due = append(due, r)
		}
	}
	progress := console.NewProgress(w)
	defer progress.Clear()
	for i, r := range due {
		progress.Show("measuring recording %d (%d of %d)", r.ID, i+1, len(due))
		releves, err := measureOne(ctx, l, r)
		progress.Clear()
		if ctx.Err() != nil {
			fmt.Fprintf(w, "%d of %s measured; the others are as they were\n", i-failed, words.Count(len(due), "recording", "recordings"))
			return failed, ctx.Err()
		}
		if err != nil {
			failed++
			fmt.Fprintf(w, "aplomb: recording %d cannot be measured (aplomb logbook check says more, aplomb logbook erase %d takes it out for good): %s\n", r.ID, r.ID, console.Explain(err))
			continue
		}
		fmt.Fprintf(out, "recording %s: %s\n", text.RecordingName(r), words.Count(releves, "relevé", "relevés"))
	}
	fmt.Fprintf(out, "%s measured; %d up to date already\n", words.Count(len(due)-failed, "recording", "recordings"), len(all)-len(due))
	return failed, nil
}

// MeasureReadOnly measures the recordings that MeasureDue would, where the logbook
// cannot be written. The measures are in l until it is closed, and are stored
// nowhere. A logbook that can be written stays as it is.
func MeasureReadOnly(ctx context.Context, w io.Writer, l *logbook.Logbook, f logbook.Filter) error {
	if l.Writable() == nil {
		return nil
	}
	_, err := MeasureDue(ctx, io.Discard, w, l, f)
	return err
}

// measureOne measures a recording of the logbook and returns how many relevés it
// has.
func measureOne(ctx context.Context, l *logbook.Logbook, r logbook.Recording) (releves int, err error) {
	result, err := analyze.File(ctx, r.Path, analyze.Options{Software: software.Provenance()})
	if err != nil {
		return 0, err
	}
	return logbook.CountMeasured(logbook.RelevesOf(result)), l.PutMeasures(r.ID, result)
}
