package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/scale"
	"aplomb/cmd/internal/bench"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

func newStripZero() *cobra.Command {
	var w calibration
	cmd := &cobra.Command{
		Use:   "zero [FILE]",
		Short: "Measure what each cell reads unloaded, and its noise",
		Long: `Measure what each cell reads with nothing on the strip, and its noise.

Leave the strip on its plate for a few minutes to warm up, take everything off
it, and do not touch it for the five seconds of the reading. Without a terminal
the reading begins at once. Or name a recording or CSV file of the unloaded
strip.

zero_counts and noise_counts go into the profile. The date of the calibration
does not change: it is that of the curve.`,
		Example: `  aplomb strip zero --strip left.toml --port /dev/ttyUSB0
  aplomb strip zero --strip left.toml unloaded.csv --write`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 || (len(args) == 1) == (w.port != "") {
				return usage.Errorf("name either one file of the unloaded strip, or its --port")
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.Close()
			if err := w.CheckIntact(); err != nil {
				return err
			}
			z, err := w.Unloaded(append(args, "")[0])
			if err != nil {
				return err
			}
			output.Zero(cmd.OutOrStdout(), w.Strip, z)
			return w.keep(cmd, func(s *device.Strip) error {
				z.Into(&s.Calibration)
				bench.Resign(s)
				return nil
			}, "zero and noise written")
		},
	}
	w.flags(cmd)
	w.keepFlags(cmd)
	return cmd
}

func newStripGains() *cobra.Command {
	var w calibration
	cmd := &cobra.Command{
		Use:   "gains (press[=FILE]… | forward[=FILE]… backward[=FILE]…)",
		Short: "Measure how the cells differ, with even pressure or a roller",
		Long: `Measure how the cells differ, with even pressure or a roller.

press: press the whole strip evenly, for example with an air cushion under a
stiff plate, at least three times, at pressures spread over the range in use.
The pressure need not be known, but any unevenness ends up in the gains.
forward, backward: roll a heavy roller, wider than the strip, over all of it,
from back to front and from front to back, twice each way at least, at a steady
speed. A file holds one pass, from before it begins until the roller is off.

gains and gain_sd go into the profile. Calibrate the strip after that, because
the curve depends on the gains.`,
		Example: `  aplomb strip gains --strip left.toml --port /dev/ttyUSB0 \
      press press press press
  aplomb strip gains --strip left.toml --zero unloaded.csv \
      press=p1.csv press=p2.csv press=p3.csv
  aplomb strip gains --strip left.toml --port /dev/ttyUSB0 \
      forward backward forward backward`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := bench.CheckGainSteps(args); err != nil {
				return err
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.Close()
			if err := w.CheckIntact(); err != nil {
				return err
			}
			g, err := w.Gains(args)
			if err != nil {
				return err
			}
			output.Gains(cmd.OutOrStdout(), w.Strip, g)
			curved := len(w.Strip.Calibration.RangeKPa) > 0
			if curved {
				text.Warnings(cmd.OutOrStdout(), []string{"the curve in the profile was measured with other gains: run aplomb strip calibrate next"})
			}
			return w.keep(cmd, func(s *device.Strip) error {
				g.Into(&s.Calibration)
				if curved {
					bench.Resign(s)
				} else {
					w.SignToday(s)
				}
				return nil
			}, "gains written")
		},
	}
	w.flags(cmd)
	w.zeroFlag(cmd)
	w.keepFlags(cmd)
	return cmd
}

func newStripCalibrate() *cobra.Command {
	var w calibration
	var p bench.Pad
	var loadU float64
	cmd := &cobra.Command{
		Use:   "calibrate WEIGHT[=FILE]…",
		Short: "Measure the curve from counts to kPa with known weights",
		Long: `Measure the curve from counts to kPa with known weights, in increasing and then
decreasing order.

Put a stiff pad of known size on the strip, with something soft and even under
it, and weights on the pad, on a bench; no person stands on the strip. A dancer
of 60 kg produces 0.4 to 3 MPa; on a pad of 20 × 20 mm that is 16 kg and more.
Use at least three different weights, better five, up to the largest in use,
then the same ones in decreasing order. Leave the largest on for at least ten
seconds, so that creep can be measured. The weight of a step is all that is on
the pad. That includes the pad itself, unless the zero was taken with the pad
on, as the terminal asks for.

A file begins before the weight is changed, or just after that. Name the files
in the order in which the weights were on. The times between CSV files are
unknown: each is assumed to follow the one before at once, which affects only
creep.

A straight line, a power law and a monotone cubic through the points are fitted,
and the simplest that predicts each load well from the others is taken. Curve,
range, hysteresis and creep go into the profile, with the date, the strip's name
and a checksum.`,
		Example: `  aplomb strip calibrate --strip left.toml --port /dev/ttyUSB0 --pad-mm 20x20 \
      5kg 10kg 20kg 30kg 40kg 30kg 20kg 10kg 5kg
  aplomb strip calibrate --strip left.toml --area-mm2 1000 --zero pad.csv \
      200N=1.csv 500N=2.csv 900N=3.csv 500N=4.csv 200N=5.csv --write`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage.Errorf("name the weights in the order in which they are used, such as 5kg 10kg 20kg 10kg 5kg")
			}
			if !(loadU >= 0 && loadU < 0.5) {
				return usage.Errorf("--load-u %v: a fraction, such as 0.01", loadU)
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.Close()
			if err := w.CheckIntact(); err != nil {
				return err
			}
			l, r, err := w.Curve(args, p, loadU)
			if err != nil {
				return err
			}
			output.Calibration(cmd.OutOrStdout(), w.Strip, &l, &r)
			return w.keep(cmd, func(s *device.Strip) error {
				r.Into(&s.Calibration)
				w.SignToday(s)
				return nil
			}, fmt.Sprintf("calibration of %s written", device.DateOf(w.Taken)))
		},
	}
	w.flags(cmd)
	w.zeroFlag(cmd)
	f := cmd.Flags()
	f.StringVar(&p.Size, "pad-mm", "", "pad's `WIDTHxDEPTH`, along the rows and across, such as 20x20")
	f.StringVar(&p.At, "pad-at", "0,0", "pad's middle, `MEDIAL,OVER` mm from the strip's")
	f.Float64Var(&p.AreaMM2, "area-mm2", 0, "instead: `AREA` of a pad that covers all cells and nothing else")
	f.Float64Var(&loadU, "load-u", calibrate.DefaultLoadU, fmt.Sprintf("relative standard `UNCERTAINTY` of weights and area; %g is our assumption", calibrate.DefaultLoadU))
	w.keepFlags(cmd)
	return cmd
}

func newStripVerify() *cobra.Command {
	var w calibration
	var day string
	var loadU float64
	loadPercent, copMM := bench.DefaultLimits()
	cmd := &cobra.Command{
		Use:   "verify WEIGHT@MEDIAL,OVER[=FILE]…",
		Short: "Compare the strip's readings with known weights on known places",
		Long: `Compare the strip's readings with known weights on known places: pass or fail.

Put weights on a small pad that covers at least two cells each way, with its
middle on known places and all of it on the strip: the middle, both sides, back
and front. A place is in mm from the strip's middle, towards the big toe and
towards the front. Load and centre of pressure are measured as in a recording,
with the calibration in the profile, which stays as it is.

For a strip in the logbook the result is kept there, unless you use --dry-run:
aplomb strip show lists it, and aplomb track and aplomb compare report it if the
load of the strip has changed between two checks. Use the same weights each
time, because different ones have errors of their own, and give their
uncertainty with --load-u: smaller changes are not seen. Of several checks on
one day the last counts. For a profile file the result is only printed.

The exit status is 1 if the strip does not pass.`,
		Example: `  aplomb strip verify --strip left.toml --port /dev/ttyUSB0 \
      10kg@0,0 10kg@-10,0 10kg@10,0 10kg@0,-5 10kg@0,5
  aplomb strip verify --strip left.toml 10kg@0,0=v1.csv 10kg@-10,0=v2.csv`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage.Errorf("name weights and the places they go on, such as 10kg@0,0 10kg@-10,0 10kg@10,0 10kg@0,-5 10kg@0,5")
			}
			limits, err := bench.Limits(loadPercent, copMM)
			if err != nil {
				return err
			}
			if !(loadU >= 0 && loadU < 0.5) {
				return usage.Errorf("--load-u %v: a fraction, such as %g", loadU, calibrate.DefaultLoadU)
			}
			on, err := dayOfCheck(day, w.port)
			if err != nil {
				return err
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.Close()
			v, err := w.Verify(args, limits)
			if err != nil {
				return err
			}
			output.Verification(cmd.OutOrStdout(), w.Strip, &v)
			if err := w.keepCheck(cmd, scale.CheckOf(w.Strip.Name, &v, loadU, w.Taken.Local()), on); err != nil {
				return err
			}
			if !v.Pass {
				return errNo
			}
			return nil
		},
	}
	w.flags(cmd)
	w.zeroFlag(cmd)
	cmd.Flags().Float64Var(&loadPercent, "load-limit", loadPercent, "largest error of the load, `PERCENT`")
	cmd.Flags().Float64Var(&copMM, "cop-limit-mm", copMM, "largest error of the centre of pressure, `MM`")
	cmd.Flags().StringVar(&day, "date", "", "`DAY` of the check; default that of a recording, or today")
	cmd.Flags().Float64Var(&loadU, "load-u", calibrate.DefaultLoadU, fmt.Sprintf("relative standard `UNCERTAINTY` of the weights; %g is our assumption", calibrate.DefaultLoadU))
	cmd.Flags().BoolVar(&w.dry, "dry-run", false, "only print it, and keep nothing in the logbook")
	return cmd
}

func newStripSeat() *cobra.Command {
	var w calibration
	var mountings, presses int
	cmd := &cobra.Command{
		Use:   "seat [FILE.mcap…]",
		Short: "Measure how well a mounting repeats",
		Long: `Measure how well a mounting repeats, from repeated mountings.

Fix the strip under the shoe. Put a weight on the same place of the platform at
least twice, better four times, and lift it in between. Take the strip off and
fix it again, six times or more. Use a jig, or a mark on the shoe; differences
between presses of one mounting are not counted. No person stands on the strip.

With --port the terminal leads through the presses. Or record each mounting with
aplomb record, holding each press for a second or longer, and name the
recordings; several of one mounting (--same-mounting-as) count as one.
Recordings that hold a pad press need no weight: the seat that each press shows
is taken.

seat_sd_mm, seat_mountings and seat_dof go into the profile. If mountings differ
no more than presses do, seat_sd_mm is an upper bound.`,
		Example: `  aplomb strip seat --strip left.toml --port /dev/ttyUSB0 --mountings 6 \
      --presses 4
  aplomb strip seat --strip left.toml m1.mcap m2.mcap m3.mcap m4.mcap \
      m5.mcap m6.mcap --write`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: completeFiles("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case (len(args) > 0) == (w.port != ""):
				return usage.Errorf("name either recordings of the mountings, or the strip's --port")
			case mountings < 2 || presses < 2:
				return usage.Errorf("--mountings %d --presses %d: at least 2 of each", mountings, presses)
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.Close()
			if err := w.CheckWritable(); err != nil {
				return err
			}
			all, err := w.RecordedMountings(args)
			if w.AtPort() {
				all, err = w.GuidedMountings(mountings, presses)
			}
			if err != nil {
				return err
			}
			seat, err := bench.Seat(all)
			if err != nil {
				return err
			}
			output.Seat(cmd.OutOrStdout(), w.Strip, all, seat)
			return w.keep(cmd, func(s *device.Strip) error { return seat.Into(&s.Mount) }, "seat written")
		},
	}
	w.flags(cmd)
	cmd.Flags().IntVar(&mountings, "mountings", 6, "with --port, `NUMBER` of mountings to ask for")
	cmd.Flags().IntVar(&presses, "presses", 4, "with --port, `NUMBER` of presses in each")
	w.keepFlags(cmd)
	return cmd
}
