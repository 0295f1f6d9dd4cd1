package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots"
)

func newPlot(o outside) *cobra.Command {
	from := choosing(o)
	var out, format, base string
	cmd := &cobra.Command{
		Use:   "plot [FILE.mcap…]",
		Short: "Draw platforms, shoe against shoe, left against right, traces",
		Long: `Draw what was measured.

  platforms       where the dancer stands on each platform
  shoes-FOOT      shoe against shoe
  feet-SHOE       left against right
  wear-SHOE       every place that was stood on in a shoe
  ladder          three shoes or more against the first
  trace-FILE      load and over against time, one recording

Pictures of these names that are in DIR already are replaced. SVG and PNG carry
the provenance of their numbers.

Recordings are files, or those in the logbook that --dancer, --visit and --shoe
choose.`,
		Example: `  aplomb plot a1.mcap a2.mcap b1.mcap b2.mcap --out pictures
  aplomb plot --dancer D7 --visit last --out pictures
  aplomb plot a1.mcap --out pictures --format png`,
		Args:              from.args,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "out"); err != nil {
				return err
			}
			if !slices.Contains(plots.Formats, format) {
				return misused("--format %q: one of %s", format, strings.Join(plots.Formats, ", "))
			}
			p, err := from.pick(args)
			if err != nil {
				return err
			}
			c, results, err := compareAll(cmd, &p, base, analyze.Options{KeepTrace: true})
			if err != nil {
				return err
			}
			return savePictures(cmd, c, results, out, format)
		},
	}
	from.flags(cmd)
	cmd.Flags().StringVar(&out, "out", "", "`DIR` to put the pictures in")
	cmd.Flags().StringVar(&format, "format", "svg", "`FORMAT` of the pictures: "+strings.Join(plots.Formats, ", "))
	baseFlag(cmd, &from.book, &base)
	cmd.MarkFlagDirname("out")
	complete(cmd, "format", oneOf(plots.Formats...))
	return cmd
}

// savePictures draws every picture there is something for.
func savePictures(cmd *cobra.Command, c *compare.Comparison, results []*measure.Result, dir, format string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	progress := newProgress(cmd.ErrOrStderr())
	for _, p := range plots.All(results, c) {
		path := filepath.Join(dir, p.Name+"."+format)
		progress.show("drawing %s", path)
		if err := plots.Save(p.Picture, path, c.Provenance); err != nil {
			return err
		}
		progress.clear()
		fmt.Fprintln(cmd.OutOrStdout(), path)
	}
	return nil
}
