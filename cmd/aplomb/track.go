package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/history"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

func newTrack() *cobra.Command {
	var b lookup.Folder
	var of history.Query
	var asJSON, asCSV bool
	cmd := &cobra.Command{
		Use:   "track --dancer CODE",
		Short: "Follow a dancer over visits: what has changed beyond noise",
		Long: `Follow a measure of a dancer over visits, on each foot and left less right.

Every visit is compared with the first that is marked as baseline, or else with
the first. The change of over, medial, contact share, load or load share is
  beyond noise  if it is larger than the minimal detectable change, t·√2 times
                the standard error of measurement, and its 95 % interval leaves
                0 out
  within noise  if not
Other measures have no such wording. The error is that of baseline visits, or of
mountings on one day: those of this dancer, or of every dancer in the logbook if
those are too few. --reliability takes that of a study instead, with its degrees
of freedom. It is never taken from the follow-up itself, where recovery would
count as error. The interval is that of the two visits, with their relevés,
seats and mounting effect, as in aplomb compare. t is the quantile of Student's
t with the degrees of freedom of the error. Every visit is judged by itself,
whatever the number of visits.

One shoe is followed at a time, under the same support and rise. A shoe that is
worn or altered stays that shoe, and the visit says what changed; with another
outline or shank it is another shoe. --by hours follows the values over the
hours that the shoe was worn, which aplomb shoe edit CODE --hours HOURS enters,
with a straight line through the visits, which is exploratory. The output states
what was measured; it is no advice on return to dance.

--csv writes one row a visit, side and shoe; with --measure all it has every
measure, and with that the numbers of the progress sheet. aplomb fields
track-csv explains its columns.

` + text.Wrap("The measures: "+strings.Join(history.MeasureNames(), ", ")+"."),
		Example: `  aplomb track --dancer D7
  aplomb track --dancer D7 --measure contact_share --foot left --shoe A
  aplomb track --dancer D7 --shoe A --by hours
  aplomb track --dancer D7 --json | jq '.series[].points[].change'
  aplomb track --dancer D7 --measure all --csv > D7.csv`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	f := cmd.Flags()
	f.StringVar(&of.Dancer, "dancer", "", "the dancer's `CODE`")
	f.StringVar(&of.Symbol, "measure", measure.Over.Symbol(), "`MEASURE` to follow")
	f.StringVar(&of.Foot, "foot", "", "only the left or the right `FOOT`")
	f.StringVar(&of.Shoe, "shoe", "", "only in the shoe of that `CODE`")
	f.StringVar(&of.By, "by", history.Visits, "follow the values over `WHAT`: visits, or hours that the shoe was worn")
	f.StringVar(&of.Study, "reliability", "", "take the error from a `FILE` made by aplomb reliability --json")
	logbookFlag(cmd, &b)
	f.BoolVar(&asJSON, "json", false, "one JSON object")
	csvFlag(cmd, &asCSV)
	complete(cmd, "reliability", completeFiles("json"))
	complete(cmd, "dancer", completeCodes(dancerCodes))
	complete(cmd, "measure", completeWords(append(history.MeasureNames(), history.AllMeasures)...))
	complete(cmd, "foot", completeWords("left", "right"))
	complete(cmd, "by", completeWords(history.Visits, history.Hours))
	complete(cmd, "shoe", completeCodes(shoeCodes))
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := requireFlags(cmd, "dancer"); err != nil {
			return err
		}
		if err := of.Check(); err != nil {
			return err
		}
		if of.By == history.Hours && asCSV {
			return usage.Errorf("--by %s: not with --csv, whose rows are visits and have the hours in a column", history.Hours)
		}
		if of.Symbol == history.AllMeasures && !asCSV {
			return usage.Errorf("--measure %s: only with --csv; name one measure, or say --csv too", history.AllMeasures)
		}
		return b.With(func(l *logbook.Logbook) error {
			if err := batch.MeasureReadOnly(cmd.Context(), cmd.ErrOrStderr(), l, logbook.Filter{}); err != nil {
				return err
			}
			if asCSV {
				all, err := of.FollowAll(l)
				if err != nil {
					return err
				}
				text.Warnings(cmd.ErrOrStderr(), all[0].LeftOut)
				output.Stop(cmd.ErrOrStderr(), all[0].Stop)
				var followed []*track.FollowUp
				for _, t := range all {
					followed = append(followed, t.FollowUp)
				}
				return export.CSV(cmd.OutOrStdout(), dataset.FollowUps(followed))
			}
			t, err := of.Follow(l)
			if err != nil {
				return err
			}
			text.Warnings(cmd.ErrOrStderr(), t.LeftOut)
			if asJSON {
				t.Texts = words.Warnings(t.Warnings)
				return output.JSON(cmd.OutOrStdout(), t.FollowUp)
			}
			if of.By == history.Hours {
				output.Worn(cmd.OutOrStdout(), t)
			} else {
				output.History(cmd.OutOrStdout(), t)
			}
			fmt.Fprintln(cmd.OutOrStdout(), words.Caution)
			return nil
		})
	}
	return cmd
}
