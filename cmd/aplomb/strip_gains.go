package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/analyze/calibrate"
	"aplomb/device"
)

func newStripGains() *cobra.Command {
	var w workshop
	cmd := &cobra.Command{
		Use:   "gains (press[=FILE]… | forward[=FILE]… backward[=FILE]…)",
		Short: "Find how the cells differ, by even pressure or by a roller",
		Long: `Find how the cells differ, by even pressure or by a roller.

press: press the whole strip evenly, as with an air cushion under a stiff plate;
three times at least, at pressures spread over the range in use. How much need
not be known, but what is uneven in it ends up in the gains.
forward, backward: roll a heavy roller, wider than the strip, over all of it,
from back to front and from front to back, twice each way at least, at a steady
speed. A file holds one pass, from before it begins until the roller is off.

gains and gain_sd go into the profile. Calibrate the strip after that: a curve
found with other gains is not quite that of these.`,
		Example: `  aplomb strip gains --strip left.toml --port /dev/ttyUSB0 \
      press press press press
  aplomb strip gains --strip left.toml --zero unloaded.csv \
      press=p1.csv press=p2.csv press=p3.csv
  aplomb strip gains --strip left.toml --port /dev/ttyUSB0 \
      forward backward forward backward`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			rolls, err := rolling(args)
			if err != nil {
				return err
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.close()
			if err := w.buildable(); err != nil {
				return err
			}
			steps, err := w.steps(args)
			if err != nil {
				return err
			}
			find := w.pressed
			if rolls {
				find = w.rolled
			}
			g, err := find(steps)
			if err != nil {
				return err
			}
			printGains(cmd.OutOrStdout(), w.strip, g)
			curved := len(w.strip.Calibration.RangeKPa) > 0
			if curved {
				printWarnings(cmd.OutOrStdout(), []string{"the curve in the profile was found with other gains: run aplomb strip calibrate next"})
			}
			return w.keep(func(s *device.Strip) error {
				g.Into(&s.Calibration)
				if curved {
					renewed(s)
				} else {
					w.dated(s)
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

// rolling says whether the steps are passes of a roller.
func rolling(args []string) (rolls bool, err error) {
	presses := 0
	for _, a := range args {
		switch s := cutStep(a); s.what {
		case "press":
			presses++
		case "forward", "backward":
			rolls = true
		default:
			return false, misused("%q: a step is %s, as in press=p1.csv", a, either("press", "forward", "backward"))
		}
	}
	switch {
	case len(args) == 0:
		return false, misused("name the steps: press at least three times, or forward and backward at least twice each")
	case rolls && presses > 0:
		return false, misused("press and roll in one: gains come from either")
	}
	return rolls, nil
}

func (w *workshop) pressed(steps []step) (calibrate.Gains, error) {
	zero, err := w.zero("Take everything off the strip, let go of it, and press Enter.")
	if err != nil {
		return calibrate.Gains{}, err
	}
	var presses [][]float64
	for i, s := range steps {
		t, err := w.take(s, fmt.Sprintf("Press %d of %d: press the whole strip evenly, each time differently hard. When it has settled, press Enter.", i+1, len(steps)), loadFor)
		if err != nil {
			return calibrate.Gains{}, err
		}
		mean, _, err := calibrate.Settled(t.timeS, t.frames, zero, w.strip.SaturatesAt)
		if err != nil {
			return calibrate.Gains{}, fmt.Errorf("%s: %w", s.of(i), err)
		}
		presses = append(presses, mean)
	}
	return calibrate.Uniform(presses)
}

func (w *workshop) rolled(steps []step) (calibrate.Gains, error) {
	zero, err := w.zero("Take everything off the strip, let go of it, and press Enter.")
	if err != nil {
		return calibrate.Gains{}, err
	}
	way := map[string]string{"forward": "from back to front", "backward": "from front to back"}
	var passes []calibrate.Pass
	for i, s := range steps {
		var t take
		if w.guide != nil {
			t, err = w.guide.passed(fmt.Sprintf("Pass %d of %d: roll over the whole strip once, %s, at a steady speed; then press Enter.", i+1, len(steps), way[s.what]))
		} else {
			t, err = w.read(s.file)
		}
		if err != nil {
			return calibrate.Gains{}, err
		}
		if err = calibrate.Unsaturated(t.frames, w.strip.SaturatesAt); err == nil {
			var impulse []float64
			impulse, err = calibrate.Roll(t.timeS, t.frames, zero)
			passes = append(passes, calibrate.Pass{Backward: s.what == "backward", Impulse: impulse})
		}
		if err != nil {
			return calibrate.Gains{}, fmt.Errorf("%s: %w", s.of(i), err)
		}
	}
	return calibrate.Rolled(passes)
}

func printGains(out io.Writer, s *device.Strip, g calibrate.Gains) {
	fmt.Fprintf(out, "strip %s, gain of each cell, front at the top, big toe on the right\n", s.Name)
	printCells(out, s, g.Gain, 3)
	fmt.Fprintf(out, "cells differ by %s (standard deviation); once their gains are taken out, %s remains\n",
		percent(g.SD, 1), percent(g.RemainingSD(), 2))
	printWarnings(out, g.Warnings)
}
