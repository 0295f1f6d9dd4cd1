package main

import (
	"cmp"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/dataset"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
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
