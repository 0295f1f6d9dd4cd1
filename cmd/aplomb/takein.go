package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/kept"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// takeIn takes a recording into a visit, measures it, and says in short what it
// gave. It does not ask whether somebody wants it to end: a recording ends with
// Ctrl-C, and is to be kept.
func takeIn(cmd *cobra.Command, b *book, v logbook.Visit, path string) error {
	var r logbook.Recording
	err := b.with(func(l *logbook.Logbook) (err error) {
		r, err = l.AddRecording(path, v.ID)
		return typedWrong(err)
	})
	if err != nil {
		return notTaken{err}
	}
	fmt.Fprintf(cmd.OutOrStdout(), "recording %d in the logbook: %s, %s, shoe %s\n", r.ID, r.Dancer, r.VisitName, shoeWords(r))
	if !v.Day.Around(r.Started) {
		printWarnings(cmd.ErrOrStderr(), []string{fmt.Sprintf("recording %d was made on %s, which is not the visit's day", r.ID, logbook.DayOf(r.Started))})
	}
	if err := b.with(func(l *logbook.Logbook) error { return measureRecording(cmd, l, r) }); err != nil {
		return fmt.Errorf("recording %d is in the logbook and could not be measured: %w", r.ID, err)
	}
	return nil
}

// notTaken marks why a recording did not get into the logbook.
type notTaken struct{ error }

func (n notTaken) Unwrap() error { return n.error }

// stays says of a recording that was just made where it is, and how it gets into
// the logbook, if it did not.
func stays(err error, v logbook.Visit, path string) error {
	if n := (notTaken{}); !errors.As(err, &n) {
		return err
	}
	return fmt.Errorf("%w; the recording is in %s: aplomb import %s --dancer %s --visit %s takes it in",
		err, path, asTyped(path), asTyped(v.Dancer), v.Name())
}

// sayNext says whether the plan of a visit was kept to, and what it has next.
func sayNext(cmd *cobra.Command, b *book, v logbook.Visit) error {
	return b.with(func(l *logbook.Logbook) error {
		return cmp.Or(tellAstray(cmd.OutOrStdout(), l, v), tellNext(cmd.OutOrStdout(), l, v))
	})
}

// measureRecording puts the measures of a recording into the logbook and prints where the
// dancer stood.
func measureRecording(cmd *cobra.Command, l *logbook.Logbook, r logbook.Recording) error {
	result, err := analyze.File(cmd.Context(), r.Path, analyze.Options{Version: version})
	if err != nil {
		return err
	}
	if err := l.PutMeasures(r.ID, version, kept.Releves(result)); err != nil {
		return err
	}
	c, err := compare.Of([]*measure.Result{result}, "")
	if err != nil {
		return err
	}
	printStand(cmd.OutOrStdout(), c)
	printWarnings(cmd.ErrOrStderr(), words.Warnings(result.Warnings))
	return nil
}

// printStand says in a line a foot where the dancer stood, with the half-width of
// the 95 % interval.
func printStand(w io.Writer, c *compare.Comparison) {
	if len(c.Shoes) == 0 {
		fmt.Fprintln(w, c.Why)
	}
	for _, s := range c.Shoes {
		over := s.Measures[measure.Over]
		fmt.Fprintf(w, "%-6s %s, over %s (95 %%), %s\n", s.Foot.String()+":", words.Count(s.N, "relevé", "relevés"),
			words.DisplayOf(measure.Over).PlusMinus(over.Mean, over.CI95), words.Verdict(s.Verdict, s.Measures[measure.Medial].Mean))
	}
}
