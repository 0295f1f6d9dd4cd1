package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/plots/words"
)

func newLogbookMeasure() *cobra.Command {
	var b book
	var dancer string
	cmd := &cobra.Command{
		Use:   "measure",
		Short: "Measure again what another algorithm has measured",
		Long: `Measure the recordings of the logbook whose measures are stale, because another
algorithm than this program's computed them, and those that have none. Until
then track, plans and the progress sheet leave them out.

What is done is kept when the command is interrupted: it goes on where it was.
Exit status 1 where a recording cannot be measured.`,
		Example: `  aplomb logbook measure
  aplomb logbook measure --dancer D7`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	cmd.Flags().StringVar(&dancer, "dancer", "", "only recordings of the dancer of that `CODE`")
	complete(cmd, "dancer", b.codes(dancerCodes))
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		var f logbook.Filter
		if dancer != "" {
			d, err := l.Dancer(dancer)
			if err != nil {
				return listed(err, "aplomb dancer list")
			}
			f.Dancer = d.Code
		}
		return measureAgain(cmd, l, f)
	})
	return cmd
}

// measureAgain measures what is not current among the recordings that f selects,
// and says of each what it gave.
func measureAgain(cmd *cobra.Command, l *logbook.Logbook, f logbook.Filter) error {
	all, err := l.Recordings(f)
	if err != nil {
		return err
	}
	var due []logbook.Recording
	for _, r := range all {
		if r.Measures != logbook.Current {
			due = append(due, r)
		}
	}
	progress := newProgress(cmd.ErrOrStderr())
	defer progress.clear()
	failed := 0
	for i, r := range due {
		progress.show("measuring recording %d (%d of %d)", r.ID, i+1, len(due))
		releves, err := measureOne(cmd, l, r)
		if cmd.Context().Err() != nil {
			progress.clear()
			fmt.Fprintf(cmd.ErrOrStderr(), "%d of %s measured; the others are as they were\n", i-failed, words.Count(len(due), "recording", "recordings"))
			return cmd.Context().Err()
		}
		progress.clear()
		if err != nil {
			failed++
			fmt.Fprintf(cmd.ErrOrStderr(), "aplomb: recording %d cannot be measured (aplomb logbook check says more, aplomb logbook erase %d takes it out for good): %s\n", r.ID, r.ID, explain(err))
			continue
		}
		fmt.Fprintf(cmd.OutOrStdout(), "recording %s: %s\n", recordingWords(r), words.Count(releves, "relevé", "relevés"))
	}
	printMeasured(cmd.OutOrStdout(), len(due)-failed, len(all)-len(due))
	if failed > 0 {
		return errNo
	}
	return nil
}

// measureOne measures a recording of the logbook and returns how many relevés it
// has.
func measureOne(cmd *cobra.Command, l *logbook.Logbook, r logbook.Recording) (releves int, err error) {
	result, err := analyze.File(cmd.Context(), r.Path, analyze.Options{Software: built()})
	if err != nil {
		return 0, err
	}
	return logbook.CountMeasured(logbook.RelevesOf(result)), l.PutMeasures(r.ID, result)
}

func printMeasured(w io.Writer, measured, current int) {
	fmt.Fprintf(w, "%s measured; %d up to date already\n", words.Count(measured, "recording", "recordings"), current)
}
