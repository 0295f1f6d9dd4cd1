package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/compare"
)

func newReport() *cobra.Command {
	var out, base string
	cmd := &cobra.Command{
		Use:   "report FILE.mcap…",
		Short: "Write the fitting's report, one HTML file",
		Long: `Write the fitting's report: one HTML file with the answer, the pictures, the
tables, how it was measured, and what it cannot say. It prints on A4 and Letter.`,
		Example: `  aplomb report a1.mcap a2.mcap b1.mcap b2.mcap --out report.html`,
		Args:    files,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "out"); err != nil {
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
	cmd.Flags().StringVar(&base, "base", "", "the `SHOE` to set the others against; default the first recorded")
	return cmd
}

func saveReport(path string, recordings []string, results []*analyze.Result, c *compare.Comparison) error {
	return nil
}
