package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

// lastShown is how many recordings are listed where none is named.
const lastShown = 10

func newShow() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "show [NUMBER[/RELEVÉ]]",
		Short: "Show what lies behind a number: a recording, or a relevé",
		Long: `Show what lies behind a number: a recording of the logbook with all of its
relevés, or one relevé with every measure of both feet and where in the file it
is. Without a number, the last recordings, with --json all of them. Notes stand
with their time and the relevé that they fell into, and what was said of the
recording and its visit.

The measures are those that the logbook keeps; discarded relevés are not among
them. aplomb logbook measure brings those up to date that another algorithm has
computed.`,
		Example: `  aplomb show
  aplomb show 12
  aplomb show 12/3`,
		Args:              atMostOneArg,
		ValidArgsFunction: completeCodes(recordingNumbers),
	}
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		switch {
		case len(args) == 0 && *asJSON:
			return printJSON(cmd)(output.RecordingsJSON(l))
		case len(args) == 0:
			return showLast(cmd, l)
		}
		number, releve, one := strings.Cut(args[0], "/")
		if strings.Trim(number, "0123456789") != "" || number == "" { // the path of a file, say
			number, one = args[0], false
		}
		r, err := lookup.Recording(l, number)
		if err != nil {
			return err
		}
		releves, err := l.Releves(r.ID)
		if err != nil {
			return err
		}
		switch {
		case !one && *asJSON:
			return printJSON(cmd)(output.RecordingJSON(cmd.Context(), l, r, releves))
		case !one:
			return output.Recording(cmd.Context(), cmd.OutOrStdout(), l, r, releves)
		}
		n, err := strconv.Atoi(releve)
		if err != nil || n < 1 {
			return usage.Errorf("%.40q: write relevé 3 of recording 12 as 12/3", args[0])
		}
		both := slices.DeleteFunc(releves, func(one logbook.Releve) bool { return one.N != n })
		switch {
		case r.Measures == logbook.NotMeasured && len(both) == 0:
			return &console.Remedy{Err: fmt.Errorf("recording %s is not measured yet", text.RecordingName(r)), Do: "aplomb logbook measure --dancer " + text.Quoted(r.Dancer) + " measures it"}
		case len(both) == 0:
			return &console.Remedy{Err: fmt.Errorf("recording %s has no relevé %d, or it was discarded", text.RecordingName(r), n), Do: fmt.Sprintf("aplomb show %d lists those that there are", r.ID)}
		}
		if *asJSON {
			return printJSON(cmd)(output.RecordingJSON(cmd.Context(), l, r, both))
		}
		return output.Releve(cmd.Context(), cmd.OutOrStdout(), l, r, both)
	})
}

// recordingNumbers returns the numbers of the recordings for completion, the last first.
func recordingNumbers(_ *cobra.Command, l *logbook.Logbook) (numbers []string, err error) {
	all, err := l.Recordings(logbook.Filter{})
	for i := len(all) - 1; i >= 0; i-- {
		numbers = append(numbers, cobra.CompletionWithDesc(strconv.FormatInt(all[i].ID, 10), text.RecordingName(all[i])))
	}
	return numbers, err
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
		measured, err := output.MeasuredBy(l, r)
		if err != nil {
			return err
		}
		rows = append(rows, []string{strconv.FormatInt(r.ID, 10), r.Started.Local().Format("2006-01-02 15:04"), r.Dancer, r.VisitName, text.ShoesOf(r), measured})
	}
	w := cmd.OutOrStdout()
	text.Table(w, []string{"recording", "began", "dancer", "visit", "shoe", "measured"}, rows)
	if len(all) > lastShown {
		fmt.Fprintf(w, "the last %d of %s: aplomb visit show --dancer CODE lists those of a visit\n", lastShown, words.Count(len(all), "recording", "recordings"))
	}
	return nil
}
