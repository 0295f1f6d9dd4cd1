package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/calibrate"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// pad is what weights are put on.
type pad struct {
	size, at string  // as typed; size "" where it covers all cells
	areaMM2  float64 // 0 where size is given
}

func newStripCalibrate() *cobra.Command {
	var w workshop
	var p pad
	var loadU float64
	cmd := &cobra.Command{
		Use:   "calibrate WEIGHT[=FILE]…",
		Short: "Find the curve from counts to kPa with known weights",
		Long: `Find the curve from counts to kPa with known weights in steps up and down.

Put a stiff pad of known size on the strip, something soft and even under it,
and weights on the pad, on a bench; nobody stands on anything. A dancer of 60
kg makes 0.4 to 3 MPa: on a pad of 20 × 20 mm that is 16 kg and more. At least
three different weights and better five, up to the largest in use, then down by
the same ones; leave the largest on for ten seconds or longer, or creep is not
known. A weight is all that is on the pad at that step. The pad itself counts
as part of it, unless the zero was taken with the pad on, as the terminal asks
for.

A file begins before the weight is changed, or just after that. Files are named
in the order in which the weights were on. Times between CSV files are not
known: each is taken to have followed the one before at once, which only creep
feels.

Linear, power and point-by-point curves are tried; of those the simplest is
taken that best predicts each load from the others. Curve, range, hysteresis
and creep go into the profile, with the date, the strip's name and a checksum.`,
		Example: `  aplomb strip calibrate --strip left.toml --port /dev/ttyUSB0 --pad-mm 20x20 \
      5kg 10kg 20kg 30kg 40kg 30kg 20kg 10kg 5kg
  aplomb strip calibrate --strip left.toml --area-mm2 1000 --zero pad.csv \
      200N=1.csv 500N=2.csv 900N=3.csv 500N=4.csv 200N=5.csv --write`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return misused("name the weights in the order in which they go on and off, such as 5kg 10kg 20kg 10kg 5kg")
			}
			if !(loadU >= 0 && loadU < 0.5) {
				return misused("--load-u %v: a fraction, such as 0.01", loadU)
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.close()
			if err := w.buildable(); err != nil {
				return err
			}
			l := calibrate.Loading{
				Gains: w.strip.Calibration.Gains, FullCounts: w.strip.SaturatesAt, RelLoadSD: loadU,
				Before: calibrate.Of(&w.strip.Calibration),
			}
			if err := p.under(w.strip, &l); err != nil {
				return err
			}
			if err := w.loading(&l, args, p); err != nil {
				return err
			}
			r, err := calibrate.Calibrate(l)
			if err != nil {
				return err
			}
			if len(l.Gains) == 0 {
				r.Warnings = append(r.Warnings, "the profile has no gains: cells are taken to be alike; run aplomb strip gains first")
			}
			printCalibration(cmd.OutOrStdout(), w.strip, &l, &r)
			return w.keep(func(s *device.Strip) error {
				r.Into(&s.Calibration)
				w.dated(s)
				return nil
			}, fmt.Sprintf("calibration of %s written", device.DateOf(w.taken)))
		},
	}
	w.flags(cmd)
	w.zeroFlag(cmd)
	f := cmd.Flags()
	f.StringVar(&p.size, "pad-mm", "", "pad's `WIDTHxDEPTH`, along the rows and across, such as 20x20")
	f.StringVar(&p.at, "pad-at", "0,0", "pad's middle, `MEDIAL,OVER` mm from the strip's")
	f.Float64Var(&p.areaMM2, "area-mm2", 0, "instead: `AREA` of a pad that covers all cells and nothing else")
	f.Float64Var(&loadU, "load-u", 0.01, "relative standard `UNCERTAINTY` of weights and area; 0.01 is our assumption")
	w.keepFlags(cmd)
	return cmd
}

// under finds which cells the pad lies on, and its area.
func (p *pad) under(s *device.Strip, l *calibrate.Loading) error {
	switch {
	case (p.size == "") == (p.areaMM2 == 0):
		return misused("say what the weights are put on: --pad-mm WIDTHxDEPTH, or --area-mm2 AREA where it covers all cells")
	case p.areaMM2 != 0:
		if !(p.areaMM2 > 0) || math.IsInf(p.areaMM2, 0) {
			return misused("--area-mm2 %v: above 0", p.areaMM2)
		}
		l.AreaMM2 = p.areaMM2
		if err := calibrate.CoversAll(s, p.areaMM2); err != nil {
			return fmt.Errorf("%w (--pad-mm and --pad-at)", err)
		}
		return nil
	}
	size, err := pair(p.size, "x")
	if err != nil || !(size[0] > 0 && size[1] > 0) {
		return misused("--pad-mm %q: width and depth in mm, such as 20x20", p.size)
	}
	at, err := pair(p.at, ",")
	if err != nil {
		return misused("--pad-at %q: millimetres from the strip's middle towards the big toe and the front, such as 5,-2.5", p.at)
	}
	l.AreaMM2 = size[0] * size[1]
	l.Under, err = calibrate.UnderPad(s, platform.Point(at), size)
	return err
}

// where says in words where the pad lies.
func (p *pad) where() string {
	if p.size == "" {
		return "over all cells"
	}
	return fmt.Sprintf("of %s mm, its middle at [%s] mm from that of the strip", p.size, p.at)
}

// loading takes the steps.
func (w *workshop) loading(l *calibrate.Loading, args []string, p pad) (err error) {
	steps, err := w.steps(args)
	if err != nil {
		return err
	}
	most := 0.0
	for i, s := range steps {
		v, unit, err := weight(s.what)
		if err != nil {
			return err
		}
		if i > 0 && unit != l.Unit {
			return misused("%s after weights in %s: give all in one unit", s.what, l.Unit)
		}
		l.Unit, most = unit, max(most, v)
		l.Steps = append(l.Steps, calibrate.Step{Weight: v})
	}
	if err := l.Plausible(); err != nil { // before anybody has lifted anything
		return err
	}
	l.Zero, err = w.zero(fmt.Sprintf("Lay the pad %s, with no weight on it, and press Enter.", p.where()))
	if err != nil {
		return err
	}
	w.last = math.Inf(-1)
	for i, s := range steps {
		long, wait := loadFor, ""
		if l.Steps[i].Weight == most {
			long, wait = creepFor, " This one stays on for longer."
		}
		t, err := w.take(s, fmt.Sprintf("Step %d of %d: %s in all on the pad.%s When it has settled, press Enter.", i+1, len(steps), s.what, wait), long)
		if err != nil {
			return err
		}
		l.Steps[i].TimeS, l.Steps[i].Frames = t.timeS, t.frames
		l.Steps[i].OnS = calibrate.Since(t.timeS, t.frames, l.Zero)
	}
	return nil
}

// take takes one step, from its file or at the port.
func (w *workshop) take(s step, prompt string, long time.Duration) (take, error) {
	if w.guide != nil {
		return w.guide.loaded(prompt, long)
	}
	return w.read(s.file)
}

func printCalibration(out io.Writer, s *device.Strip, l *calibrate.Loading, r *calibrate.Result) {
	cells := s.Cells()
	if l.Under != nil {
		cells = len(l.Under)
	}
	fmt.Fprintf(out, "strip %s, %s under %.4g mm²\n", s.Name, words.Count(cells, "cell", "cells"), l.AreaMM2)
	t := newTable(out)
	fmt.Fprintf(t, "step\tload %s\tkPa\treading\tcurve kPa\tresidual kPa\t\n", l.Unit)
	for i, one := range r.Steps {
		way := "  up"
		if one.Down {
			way = "  down"
		}
		fmt.Fprintf(t, "%d\t%g\t%.1f\t%.1f\t%.1f\t%s\t%s\n", i+1, l.Steps[i].Weight, one.KPa, one.Reading, one.KPa+one.Residual, words.Number(one.Residual, 1), way)
	}
	t.Flush()
	fmt.Fprintf(out, "curve: %s\n", curveWords(r.Curve))
	var missed []string
	for _, k := range []calibrate.Kind{calibrate.Linear, calibrate.Power, calibrate.Points} {
		if m := r.MissedKPa[k]; math.IsInf(m, 0) {
			missed = append(missed, fmt.Sprintf("%s does not fit", k))
		} else {
			missed = append(missed, fmt.Sprintf("%s %.2g kPa", k, m))
		}
	}
	fmt.Fprintf(out, "why: each load predicted from the others, %s; the simplest that does it best\n", strings.Join(missed, ", "))
	fmt.Fprintf(out, "hysteresis: %s of the largest pressure, between up and down\n", percent(r.Hysteresis, 1))
	if math.IsNaN(r.CreepPerDecade) {
		fmt.Fprintf(out, "creep: not known\n")
	} else {
		fmt.Fprintf(out, "creep: %s ± %s in each tenfold of time; loads were %.1f s old\n", percent(r.CreepPerDecade, 2), percent(r.UCreep, 2), r.AgeS)
	}
	if !math.IsNaN(r.CellSD) {
		fmt.Fprintf(out, "cells: differ by %s beyond their gains\n", percent(r.CellSD, 2))
	}
	m := r.AtMid
	fmt.Fprintf(out, "uncertainty: %s at %.0f kPa (curve %s, hysteresis %s, creep %s, weights and area %s)\n",
		percent(m.All, 1), m.KPa, percent(m.Fit, 2), percent(m.Hysteresis, 2), percent(m.Creep, 2), percent(m.Load, 2))
	fmt.Fprintf(out, "range: %.0f to %.0f kPa\n", r.RangeKPa[0], r.RangeKPa[1])
	printWarnings(out, r.Warnings)
}

func curveWords(c calibrate.Curve) string {
	switch c.Kind {
	case calibrate.Linear:
		return fmt.Sprintf("linear, kPa = %.4g · reading", c.KPaPerCount)
	case calibrate.Power:
		return fmt.Sprintf("power, kPa = %.4g · reading^%.4g", c.KPaAtOneCount, c.Exponent)
	}
	return fmt.Sprintf("points, a monotone cubic through %d loads and no load, up to %.4g kPa", len(c.KPa)-1, slices.Max(c.KPa))
}
