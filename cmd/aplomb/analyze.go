package main

import (
	"cmp"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/check"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

func newAnalyze(o environment) *cobra.Command {
	c := &lookup.Choice{Now: o.now()}
	var asJSON, budgets bool
	cmd := &cobra.Command{
		Use:   "analyze [FILE.mcap…]",
		Short: "Measure every relevé in recordings",
		Long: `Measure every relevé in recordings.

over is positive towards the front edge of the platform, medial towards the big
toe; 0, 0 is the centroid of the platform. ± is the half-width of the relevé's
95 % interval, including the uncertainty of the seat. The verdict says whether
the centre of pressure is inside the kern: while the load acts there, the whole
of a flat platform is loaded.

--budget lists the uncertainty contributions of each relevé, and then those of
the mean of a recording's relevés as a statement about the shoe, which includes
the mounting effect. In JSON the former are here and the latter in aplomb
compare.

Recordings are measured in parallel. With --json they are written in their
order, each as soon as it and those before it are done; one that could not be
measured has error and file. An interrupted run has written the results so far.

` + chosenRecordings + `.
Their measures replace those that the logbook had; a logbook that cannot be
written stays as it is.

The exit status is 1 if a recording could not be measured; the others are
measured.`,
		Example: `  aplomb analyze a1.mcap
  aplomb analyze --dancer D7 --visit last
  aplomb analyze a1.mcap --budget
  aplomb analyze a1.mcap b1.mcap --json | jq '.releves[].over_mm'`,
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := c.Find(args)
			if err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			var results []*measure.Result
			stopped := batch.Each(cmd.Context(), cmd.ErrOrStderr(), &p, analyze.Options{KeepBudget: budgets}, func(i int, r *measure.Result, err error) error {
				if err != nil && asJSON {
					return output.JSON(out, output.FailureJSON(console.Explain(err), p.NameOf(i)))
				}
				if err != nil {
					return nil
				}
				results = append(results, r)
				if asJSON {
					words.Fill(r)
					return output.JSON(out, r)
				}
				return nil
			})
			if stopped != nil && cmd.Context().Err() == nil {
				return stopped
			}
			if asJSON {
				output.Stop(cmd.ErrOrStderr(), p.Stop)
			} else if err := printResults(out, p, results, budgets); err != nil {
				return err
			}
			if len(p.Entries) == 0 {
				return cmp.Or(stopped, incomplete(p))
			}
			kept, stale, err := batch.Renew(&c.Folder, p, results)
			if kept {
				fmt.Fprintf(cmd.ErrOrStderr(), "measures of %s put into the logbook; those of %d were stale\n", words.Count(len(p.Entries), "recording", "recordings"), stale)
			}
			return cmp.Or(err, stopped, incomplete(p))
		},
	}
	choiceFlags(cmd, c)
	cmd.Flags().BoolVar(&budgets, "budget", false, "add the uncertainty budget, source by source")
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON Lines, one object a recording, in their order")
	return cmd
}

// printResults prints results, with their budgets where requested. Advice to stop is
// printed first; it may be from the last recording alone.
func printResults(w io.Writer, p lookup.Recordings, results []*measure.Result, budgets bool) error {
	output.Stop(w, p.Stop)
	for i, r := range results {
		if i > 0 {
			fmt.Fprintln(w)
		}
		output.Result(w, p.Title(i, r), r)
		if !budgets {
			continue
		}
		output.Budgets(w, r.Releves)
		c, err := batch.Alone(&p, results, i)
		if err != nil {
			return err
		}
		output.MeanBudgets(w, c)
	}
	return nil
}

func newCheck(o environment) *cobra.Command {
	from := &lookup.Choice{Rejected: true, Now: o.now()}
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check [FILE.mcap…]",
		Short: "Check whether recordings are complete and can be trusted",
		Long: `Check whether recordings are complete and can be trusted: frames, their rate and
what is missing, cells that are dead, stuck, loose, noisy or saturated,
crosstalk, drift of the zero, load beside the platform, and after each → what it
means for the measures. ! marks what makes a number untrustworthy.

The exit status is 1 if a number from one of the recordings should not be
trusted.

Recordings are files, or those in the logbook that --dancer, --visit and --shoe
choose, discarded ones too. Without --visit they are of the dancer's last visit;
--visit all takes all of them.

Cells are named by their row from the back and their column from the little-toe
side. A cell between loaded ones that never responds is dead. It is called
silent if load was on too few sides of it or in too few relevés, because it may
not have been touched. Crosstalk is found if cells beside the platform on
opposite sides read load, wherever the strip may lie; if no cell lies beside it,
crosstalk cannot be found.

The line about where the strip lies comes from the edges of the platform in the
maps of the pad press (see aplomb import --press) and of the holds. The measures
refer to it (see aplomb guide numbers).

With --json: file, whole, trusted; feet.left and feet.right with strip, shoe,
mark, padding, fixing, frames, lost, rate_hz, span_s, interval_sd_ms (by the
strip's clock), arrival_sd_ms and longest_wait_ms (by the computer's), covered,
measured (number of relevés), felt (cells that carried load), seat (medial_mm,
over_mm and rotation_deg against the profile's, each with value, u and ci95;
evidence, holds, presses, beyond_profile), zero (how far it moved) and gaps;
findings with about, kind, cells ([row, column] from 1), since_s (since the
foot's first frame), share, text, means, grave. Unknown values are absent. A
file that is not a recording has error and file.`,
		Example: `  aplomb check a1.mcap
  aplomb check --dancer D7 --visit today
  aplomb check *.mcap && aplomb report *.mcap --out report.html
  aplomb check a1.mcap --json | jq '.findings[] | select(.grave)'`,
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := from.Find(args)
			if err != nil {
				return err
			}
			if p.Note != "" {
				fmt.Fprintln(cmd.ErrOrStderr(), p.Note)
			}
			if asJSON {
				output.Stop(cmd.ErrOrStderr(), p.Stop)
			} else {
				output.Stop(cmd.OutOrStdout(), p.Stop)
			}
			trusted, printed := true, 0
			err = batch.Check(cmd.Context(), cmd.ErrOrStderr(), p.Paths, func(i int, r *check.Report, err error) error {
				trusted = trusted && err == nil && r.Trusted
				if err != nil { // the others are checked nevertheless
					fmt.Fprintf(cmd.ErrOrStderr(), "aplomb: %s\n", console.Explain(err))
				}
				if err != nil && asJSON {
					return output.JSON(cmd.OutOrStdout(), output.FailureJSON(console.Explain(err), p.NameOf(i)))
				}
				if err != nil {
					return nil
				}
				title := p.Paths[i]
				if len(p.Entries) > 0 {
					r.File = p.NameOf(i)
					title = "recording " + text.RecordingName(p.Entries[i])
				}
				if asJSON {
					return output.JSON(cmd.OutOrStdout(), r)
				}
				if printed++; printed > 1 {
					fmt.Fprintln(cmd.OutOrStdout())
				}
				output.CheckReport(cmd.OutOrStdout(), title, r)
				return nil
			})
			if err != nil {
				return err
			}
			if !trusted {
				return errNo
			}
			return nil
		},
	}
	choiceFlags(cmd, from)
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON Lines, one object a recording, in their order")
	return cmd
}
