package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/plots/words"
)

// lastShown is how many recordings are listed where none is named.
const lastShown = 10

func newShow() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "show [NUMBER[/RELEVÉ]]",
		Short: "Show what lies behind a number: a recording, or a relevé",
		Long: `Show what lies behind a number: a recording of the logbook with all of its
relevés, or one relevé with every measure of both feet and where in the file it
is. Without a number, the last recordings.

The measures are those that the logbook keeps; discarded relevés are not among
them. aplomb analyze --dancer CODE measures anew what an older version measured.`,
		Example: `  aplomb show
  aplomb show 12
  aplomb show 12/3`,
		Args: atMostOne,
		ValidArgsFunction: b.codes(func(_ *cobra.Command, l *logbook.Logbook) (numbers []string, err error) {
			all, err := l.Recordings(logbook.Filter{})
			for i := len(all) - 1; i >= 0; i-- {
				numbers = append(numbers, cobra.CompletionWithDesc(strconv.FormatInt(all[i].ID, 10), recordingWords(all[i])))
			}
			return numbers, err
		}),
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if len(args) == 0 {
			return showLast(cmd, l)
		}
		number, releve, one := strings.Cut(args[0], "/")
		r, err := recordingNumbered(l, number)
		if err != nil {
			return err
		}
		releves, err := l.Releves(r.ID)
		if err != nil {
			return err
		}
		if !one {
			return printRecording(cmd.OutOrStdout(), l, r, releves)
		}
		n, err := strconv.Atoi(releve)
		if err != nil || n < 1 {
			return misused("%.40q: write relevé 3 of recording 12 as 12/3", args[0])
		}
		both := slices.DeleteFunc(releves, func(one logbook.Releve) bool { return one.N != n })
		switch {
		case r.Measured == "" && len(both) == 0:
			return fmt.Errorf("recording %s is not measured yet: aplomb analyze --dancer %s measures it", recordingWords(r), asTyped(r.Dancer))
		case len(both) == 0:
			return fmt.Errorf("recording %s has no relevé %d, or it was discarded: aplomb show %d lists those that there are", recordingWords(r), n, r.ID)
		}
		printReleve(cmd.OutOrStdout(), r, both)
		return nil
	})
	return cmd
}

// recordingNumbered finds the recording whose number was typed.
func recordingNumbered(l *logbook.Logbook, typed string) (logbook.Recording, error) {
	id, err := strconv.ParseInt(typed, 10, 64)
	if err != nil || id < 1 {
		return logbook.Recording{}, misused("%.40q: recordings go by a number, such as 12", typed)
	}
	r, err := l.Recording(id)
	return r, listed(err, "aplomb show")
}

// recordingWords names a recording with what it is of, as in
// 12 (D7, 2026-03-14, shoe A).
func recordingWords(r logbook.Recording) string {
	return fmt.Sprintf("%d (%s, %s, shoe %s)", r.ID, r.Dancer, r.VisitName, shoeWords(r))
}

func shoeWords(r logbook.Recording) string {
	return eachSide(r, func(f *logbook.RecordedFoot) string { return f.Shoe })
}

func showLast(cmd *cobra.Command, l *logbook.Logbook) error {
	all, err := l.Recordings(logbook.Filter{})
	if err != nil {
		return err
	}
	if len(all) == 0 {
		fmt.Fprintln(cmd.ErrOrStderr(), "no recording yet: aplomb record --dancer CODE --visit today makes one")
		return nil
	}
	slices.Reverse(all)
	var rows [][]string
	for _, r := range all[:min(len(all), lastShown)] {
		measured, err := measuredWords(l, r)
		if err != nil {
			return err
		}
		rows = append(rows, []string{strconv.FormatInt(r.ID, 10), r.Started.Local().Format("2006-01-02 15:04"), r.Dancer, r.VisitName, shoeWords(r), measured})
	}
	w := cmd.OutOrStdout()
	table(w, []string{"recording", "began", "dancer", "visit", "shoe", "measured"}, rows)
	if len(all) > lastShown {
		fmt.Fprintf(w, "the last %d of %s: aplomb visit show --dancer CODE lists those of a visit\n", lastShown, words.Count(len(all), "recording", "recordings"))
	}
	return nil
}
