package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
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

func newCompare(o environment) *cobra.Command {
	from := &lookup.Choice{Now: o.now()}
	var base string
	var asJSON, asCSV, details bool
	cmd := &cobra.Command{
		Use:   "compare [FILE.mcap…]",
		Short: "Compare shoes, and left with right",
		Long: `Compare shoes, and left with right, in recordings of one dancer. The answer has
at most 12 lines: what is known of the shoes, what is open and what would decide
it. --details shows the tables behind it, and every warning. --csv writes the
numbers of the lab sheet and the fitting sheet, one row for each mean or
difference; aplomb fields compare-csv explains its columns.

A difference in over, medial, contact share or load is called
  clear                                p is at most 0.05, adjusted by Holm over
                                       feet and pairs of shoes
  smaller than mounting repeatability  the 95 % interval would leave 0 out if
                                       all mountings were alike
  could be chance                      neither
Load and load share are judged only on one strip with one calibration, because
two strips may read the same load differently.
A shoe is preferred only if it gets the dancer over the box and the other does
not, or if it is nearer and misses only where the other does too, and that is
clear.

` + chosenRecordingsByDay + `
The other shoes are compared with the shoe of the first recording, which in a
fitting is the one worn on arrival, unless --base names another.

The exit status is 1 if a recording could not be measured and is left out.`,
		Example: `  aplomb compare --dancer D7 --visit today
  aplomb compare a1.mcap a2.mcap b1.mcap b2.mcap
  aplomb compare *.mcap --base A --json
  aplomb compare --dancer D7 --csv > fitting.csv`,
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := from.Find(args)
			if err != nil {
				return err
			}
			c, _, err := batch.Compare(cmd.Context(), cmd.ErrOrStderr(), &p, base, analyze.Options{})
			if err != nil {
				return err
			}
			if asCSV {
				output.Stop(cmd.ErrOrStderr(), c.Stop)
				return cmp.Or(export.CSV(cmd.OutOrStdout(), dataset.Comparison(c)), incomplete(p))
			}
			if asJSON {
				c.Texts = words.Warnings(c.Warnings)
				return cmp.Or(output.JSON(cmd.OutOrStdout(), c), incomplete(p))
			}
			if details {
				output.Stop(cmd.OutOrStdout(), c.Stop)
				output.Comparison(cmd.OutOrStdout(), c)
				printNumbers(cmd.OutOrStdout(), p)
				fmt.Fprintln(cmd.OutOrStdout(), words.Caution)
			} else {
				output.Frame(cmd.OutOrStdout(), c, "--details shows the tables. "+words.Caution)
			}
			return incomplete(p)
		},
	}
	choiceFlags(cmd, from)
	baseFlag(cmd, &base)
	cmd.Flags().BoolVar(&details, "details", false, "the tables too, and what they rest on")
	cmd.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	csvFlag(cmd, &asCSV, "details")
	return cmd
}

// csvFlag adds --csv to a command that has --json, and makes the forms of output exclude
// each other.
func csvFlag(cmd *cobra.Command, csv *bool, otherForms ...string) {
	cmd.Flags().BoolVar(csv, "csv", false, "the numbers as a table (CSV), for a chart of your own")
	oneOf(cmd, append([]string{"csv", "json"}, otherForms...)...)
}

func baseFlag(cmd *cobra.Command, base *string) {
	cmd.Flags().StringVar(base, "base", "", "the `SHOE` to set the others against; default that of the first recording")
	complete(cmd, "base", completeCodes(shoeCodes))
}

// printNumbers prints which recordings of the logbook an answer is computed from.
func printNumbers(w io.Writer, p lookup.Recordings) {
	if said := p.Numbers(); said != "" {
		fmt.Fprintln(w, text.Wrap(said))
	}
}

func newNext(o environment) *cobra.Command {
	from := &lookup.Choice{Now: o.now()}
	var base, shoe string
	var seen advise.Observations
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "next [FILE.mcap…]",
		Short: "Offer options to try next, ranked by what shoes have shown",
		Long: `Offer options to try next, from recordings of one dancer.

If the numbers of a shoe show a pattern, common practice in the trade has
options for it. None of them has a published source. They are ranked by what the
shoes tried so far have shown, and each tells what to watch for in the numbers.
If the numbers do not decide, the only offer is to measure more.

It starts from a shoe that no other is better than, unless --shoe names one.
Load that moves within the hold also chooses options, and so do observations:
give them with --sickles, --sinks, --bulging, --heel-loose and --low-crown.
aplomb fitting asks for them after every recording. With --pain nothing is
offered: stop, and have the dancer's clinician look at it. Pain recorded in the
logbook, of the visit or of the dancer's last visit, does the same.

Recordings are files, or those in the logbook that --dancer and --visit choose.
Without --visit they are of the dancer's last visit; --visit all takes all
visits together, and adds to every interval what differs between days.`,
		Example: `  aplomb next --dancer D7 --visit today
  aplomb next a1.mcap a2.mcap b1.mcap b2.mcap
  aplomb next *.mcap --shoe A --low-crown`,
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := from.Find(args)
			if (seen.Pain || p.Stop != "") && (!asJSON || err != nil) { // also where nothing can be compared
				seen.Pain, seen.Stop = true, p.Stop
				a, err := advise.Next(&compare.Comparison{}, "", seen)
				switch {
				case err != nil:
					return err
				case asJSON:
					return output.JSON(cmd.OutOrStdout(), a)
				}
				output.Advice(cmd.OutOrStdout(), a)
				return nil
			}
			if err != nil {
				return err
			}
			c, _, err := batch.Compare(cmd.Context(), cmd.ErrOrStderr(), &p, base, analyze.Options{})
			if err != nil {
				return err
			}
			seen.Pain, seen.Stop, seen.Saw = seen.Pain || p.Stop != "", p.Stop, p.Saw()
			a, err := advise.Next(c, p.Spelt(shoe), seen)
			if err != nil {
				return err
			}
			if asJSON {
				return cmp.Or(output.JSON(cmd.OutOrStdout(), a), incomplete(p))
			}
			output.Advice(cmd.OutOrStdout(), a)
			if seen.Pain {
				return incomplete(p)
			}
			if len(p.Entries) > 0 {
				fmt.Fprintln(cmd.OutOrStdout())
			}
			printNumbers(cmd.OutOrStdout(), p)
			return incomplete(p)
		},
	}
	choiceFlagsButShoe(cmd, from)
	baseFlag(cmd, &base)
	f := cmd.Flags()
	f.StringVar(&shoe, "shoe", "", "the `SHOE` to start from")
	f.BoolVar(&seen.Bulging, "bulging", false, "the foot bulges over the sides of the box")
	f.BoolVar(&seen.Sickles, "sickles", false, "the foot sickles")
	f.BoolVar(&seen.Sinks, "sinks", false, "the foot sinks into the box")
	f.BoolVar(&seen.HeelLoose, "heel-loose", false, "the heel is loose")
	f.BoolVar(&seen.LowCrown, "low-crown", false, "the box is low for the foot")
	f.BoolVar(&seen.Pain, "pain", false, "the dancer is in pain")
	f.BoolVar(&asJSON, "json", false, "one JSON object")
	complete(cmd, "shoe", completeCodes(shoeCodes))
	return cmd
}

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
