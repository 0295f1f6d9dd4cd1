package main

import (
	"cmp"
	"fmt"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
)

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
