package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots/report"
)

var (
	sheets = []string{"lab", "fitting", "progress"}
	units  = []string{"mm", "inch"}
)

func newReport(o outside) *cobra.Command {
	from := choosing(o)
	var out, base, sheet, unit string
	cmd := &cobra.Command{
		Use:   "report [FILE.mcap…]",
		Short: "Write the fitting's report, one HTML file",
		Long: `Write the fitting's report, one HTML file.

  --sheet lab       everything: the answer, the pictures, the tables, how it was
                    measured, and what it cannot say; prints on A4 and Letter
  --sheet fitting   one A4 page in plain words, for dancer and teacher
  --sheet progress  one A4 page for the physiotherapist: what changed over
                    visits, against what varies when nothing has changed

--unit inch gives the dimensions of shoes in inches; measures stay in mm.

An earlier report of that name is replaced.

Recordings are files, or those in the logbook that --dancer, --visit and --shoe
choose. The progress sheet is of all visits of a dancer, and tells of pain too.`,
		Example: `  aplomb report a1.mcap a2.mcap b1.mcap b2.mcap --out report.html
  aplomb report --dancer D7 --visit last --out report.html
  aplomb report a1.mcap --out a1.html
  aplomb report *.mcap --sheet fitting --out fitting.html
  aplomb report --dancer D7 --sheet progress --out progress.html
  aplomb report march/*.mcap april/*.mcap --sheet progress --out progress.html`,
		Args:              from.args,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "out"); err != nil {
				return err
			}
			// The lab sheet is what report wrote before there were others.
			if !slices.Contains(sheets, sheet) {
				return misused("--sheet %q: one of %s", sheet, strings.Join(sheets, ", "))
			}
			if !slices.Contains(units, unit) {
				return misused("--unit %q: one of %s", unit, strings.Join(units, ", "))
			}
			if err := pageOrVacant(out); err != nil {
				return err
			}
			if sheet == "progress" {
				if err := writeProgress(cmd, from, args, out); err != nil {
					return err
				}
				fmt.Fprintln(cmd.OutOrStdout(), out)
				return nil
			}
			p, err := from.pick(args)
			if err != nil {
				return err
			}
			c, results, err := compareAll(cmd, &p, base, analyze.Options{KeepTrace: sheet == "lab"})
			if err != nil {
				return err
			}
			if err := saveSheet(out, sheet, unit == "inch", p.pain, results, c); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), out)
			return nil
		},
	}
	from.flags(cmd)
	cmd.Flags().StringVar(&out, "out", "", "HTML `FILE` to write")
	cmd.Flags().StringVar(&sheet, "sheet", "lab", "which `SHEET`: "+strings.Join(sheets, ", "))
	cmd.Flags().StringVar(&unit, "unit", "mm", "`UNIT` of the dimensions of shoes: "+strings.Join(units, ", "))
	complete(cmd, "sheet", oneOf(sheets...))
	complete(cmd, "unit", oneOf(units...))
	baseFlag(cmd, &from.book, &base)
	complete(cmd, "out", endingIn("html"))
	return cmd
}

// saveReport writes the lab sheet of what recordings gave.
func saveReport(path string, results []*measure.Result, c *compare.Comparison) error {
	return saveSheet(path, "lab", false, false, results, c)
}

func saveSheet(path, sheet string, inches, pain bool, results []*measure.Result, c *compare.Comparison) error {
	d := report.Data{Results: results, Comparison: c, Inches: inches, Seen: advise.Observations{Pain: pain}}
	write := report.Write
	if sheet == "fitting" {
		write = report.WriteFitting
	}
	return writeBeside(path, func(w io.Writer) error { return write(w, d) })
}
