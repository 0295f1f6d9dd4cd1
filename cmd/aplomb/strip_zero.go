package main

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"aplomb/analyze/calibrate"
	"aplomb/device"
)

func newStripZero() *cobra.Command {
	var w workshop
	cmd := &cobra.Command{
		Use:   "zero [FILE]",
		Short: "Find what each cell reads unloaded, and its noise",
		Long: `Find what each cell reads with nothing on the strip, and its noise.

Let the strip lie on its plate for some minutes to warm up, take everything off
it, and leave it alone while it is read, for five seconds. Without a terminal it
is read at once. Or name a recording or CSV file of the strip unloaded.

zero_counts and noise_counts go into the profile. The date of a calibration
stays: it is that of the curve.`,
		Example: `  aplomb strip zero --strip left.toml --port /dev/ttyUSB0
  aplomb strip zero --strip left.toml unloaded.csv --write`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 || (len(args) == 1) == (w.port != "") {
				return misused("name either one file of the strip unloaded, or its --port")
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.close()
			if err := w.buildable(); err != nil {
				return err
			}
			var t take
			var err error
			if w.guide != nil {
				t, err = w.guide.still("Take everything off the strip, let go of it, and press Enter.")
			} else {
				t, err = w.read(args[0])
			}
			if err != nil {
				return err
			}
			z, err := calibrate.Unloaded(t.frames, w.strip.SaturatesAt)
			if err != nil {
				return err
			}
			printZero(cmd.OutOrStdout(), w.strip, z)
			return w.keep(func(s *device.Strip) error {
				z.Into(&s.Calibration)
				renewed(s)
				return nil
			}, "zero and noise written")
		},
	}
	w.flags(cmd)
	w.keepFlags(cmd)
	return cmd
}

func printZero(out io.Writer, s *device.Strip, z calibrate.Zero) {
	fmt.Fprintf(out, "strip %s unloaded, counts of each cell, front at the top, big toe on the right\n", s.Name)
	printCells(out, s, z.Level, 1)
	fmt.Fprintf(out, "zero of %.1f to %.1f counts, each known to %.2f; noise of %.1f to %.1f counts\n",
		slices.Min(z.Level), slices.Max(z.Level), slices.Max(z.ULevel), slices.Min(z.Noise), slices.Max(z.Noise))
	printWarnings(out, z.Warnings)
}
