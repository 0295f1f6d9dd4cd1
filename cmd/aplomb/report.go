package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/plots/report"
)

func newReport() *cobra.Command {
	var out, base string
	cmd := &cobra.Command{
		Use:   "report FILE.mcap…",
		Short: "Write the fitting's report, one HTML file",
		Long: `Write the fitting's report: one HTML file with the answer, the pictures, the
tables, how it was measured, and what it cannot say. It prints on A4 and Letter.

An earlier report of that name is replaced.`,
		Example: `  aplomb report a1.mcap a2.mcap b1.mcap b2.mcap --out report.html
  aplomb report a1.mcap --out a1.html`,
		Args:              someRecordings,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "out"); err != nil {
				return err
			}
			if err := pageOrVacant(out); err != nil {
				return err
			}
			c, results, err := compareAll(cmd, args, base, analyze.Options{KeepTrace: true})
			if err != nil {
				return err
			}
			if err := saveReport(out, args, results, c); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), out)
			return nil
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "HTML `FILE` to write")
	baseFlag(cmd, &base)
	complete(cmd, "out", endingIn("html"))
	return cmd
}

// saveReport writes the report of what recordings gave.
func saveReport(path string, recordings []string, results []*analyze.Result, c *compare.Comparison) error {
	d := report.Data{Results: results, Comparison: c, Version: version}
	for _, r := range recordings {
		sum, err := sha256Of(r)
		if err != nil {
			return err
		}
		d.SHA256 = append(d.SHA256, sum)
	}
	return writeBeside(path, func(w io.Writer) error { return report.Write(w, d) })
}
