package batch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// MeasureDue measures the recordings that f selects in the logbook and whose measures are
// stale, missing or damaged, in parallel and independently of each other. It writes a line for
// each to out in their order, and progress and failures to w, and returns how many could
// not be measured. When ctx is done it stores what has been measured. Recordings of dancers
// whose consent is withdrawn are left out, and a line to out says so.
func MeasureDue(ctx context.Context, out, w io.Writer, l *logbook.Logbook, f logbook.Filter) (failed int, err error) {
	all, err := l.Recordings(f)
	if err != nil {
		return 0, err
	}
	gone, err := l.Withdrawn()
	if err != nil {
		return 0, err
	}
	left := map[string]bool{}
	all = slices.DeleteFunc(all, func(r logbook.Recording) bool {
		if gone[r.Dancer] {
			left[r.Dancer] = true
		}
		return gone[r.Dancer]
	})
	if len(left) > 0 {
		fmt.Fprintln(out, lookup.LeftOutWithdrawn(len(left)))
	}
	return MeasureThese(ctx, out, w, l, all)
}

// MeasureThese is MeasureDue for these recordings.
func MeasureThese(ctx context.Context, out, w io.Writer, l *logbook.Logbook, all []logbook.Recording) (failed int, err error) {
	var due []logbook.Recording
	for _, r := range all {
		_, err := l.Releves(r.ID)
		if r.Measures != logbook.Current || errors.Is(err, logbook.ErrDamaged) {
			due = append(due, r)
		}
	}
	var names, paths []string
	for _, r := range due {
		names, paths = append(names, fmt.Sprintf("recording %d", r.ID)), append(paths, r.Path)
	}
	progress := console.NewProgress(w)
	defer progress.Clear()
	pace := newPace(progress, "measuring", names, paths)
	measured := 0
	work := func(ctx context.Context, i int) (*measure.Result, error) {
		return analyze.File(ctx, due[i].Path, analyze.Options{Software: software.Provenance()})
	}
	err = InOrder(ctx, len(due), pace.begin, work, func(i int, result *measure.Result, err error) error {
		r := due[i]
		pace.finish(i)
		progress.Clear()
		if err == nil {
			err = l.PutMeasures(r.ID, result)
		}
		if err != nil {
			failed++
			fmt.Fprintf(w, "aplomb: recording %d cannot be measured (aplomb logbook check says more, aplomb logbook erase %d takes it out for good): %s\n", r.ID, r.ID, console.Explain(err))
			return nil
		}
		measured++
		fmt.Fprintf(out, "recording %s: %s\n", text.RecordingName(r), words.Count(logbook.CountMeasured(logbook.RelevesOf(result)), "relevé", "relevés"))
		return nil
	})
	if err != nil {
		progress.Clear()
		fmt.Fprintf(w, "%d of %s measured; the others are as they were\n", measured, words.Count(len(due), "recording", "recordings"))
		return failed, err
	}
	fmt.Fprintf(out, "%s measured; %d up to date already\n", words.Count(len(due)-failed, "recording", "recordings"), len(all)-len(due))
	return failed, nil
}

// MeasureReadOnly measures the recordings that MeasureDue would, in a logbook that cannot
// be written. The measures are in l until it is closed, and are not stored. It does not
// change a logbook that can be written.
func MeasureReadOnly(ctx context.Context, w io.Writer, l *logbook.Logbook, f logbook.Filter) error {
	if l.Writable() == nil {
		return nil
	}
	_, err := MeasureDue(ctx, io.Discard, w, l, f)
	return err
}
