package main

import (
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

func newStripVerify() *cobra.Command {
	var w workshop
	limits := calibrate.DefaultLimits()
	loadPercent := 100 * limits.Load
	cmd := &cobra.Command{
		Use:   "verify WEIGHT@MEDIAL,OVER[=FILE]…",
		Short: "Hold the strip against known weights on known places",
		Long: `Hold the strip against known weights on known places: pass or fail.

Put weights on a small pad, at least two cells each way, its middle on known
places, all of it on the strip: the middle, both sides, back and front. A place
is in mm from the strip's middle, towards the big toe and towards the front.
Load and centre of pressure are measured as in a recording, with the calibration
in the profile. Nothing is written.

Exit status 1 where the strip does not pass.`,
		Example: `  aplomb strip verify --strip left.toml --port /dev/ttyUSB0 \
      10kg@0,0 10kg@-10,0 10kg@10,0 10kg@0,-5 10kg@0,5
  aplomb strip verify --strip left.toml 10kg@0,0=v1.csv 10kg@-10,0=v2.csv`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: filesOfSteps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return misused("name weights and the places they go on, such as 10kg@0,0 10kg@-10,0 10kg@10,0 10kg@0,-5 10kg@0,5")
			}
			if !(loadPercent > 0 && limits.CoPMM > 0) {
				return misused("limits of %v %% and %v mm: both above 0", loadPercent, limits.CoPMM)
			}
			if loadPercent != 100*limits.Load || cmd.Flags().Changed("cop-limit-mm") {
				limits.Load, limits.Basis = loadPercent/100, fmt.Sprintf("load within %g %% and centre of pressure within %g mm, as given", loadPercent, limits.CoPMM)
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.close()
			presses, err := w.presses(args)
			if err != nil {
				return err
			}
			v, err := calibrate.Verify(presses, limits)
			if err != nil {
				return err
			}
			if !w.strip.Calibration.Measured() {
				v.Warnings = append(v.Warnings, fmt.Sprintf("strip %s was never calibrated: its profile says %g kPa a count", w.strip.Name, w.strip.Calibration.KPaPerCount))
			}
			v.Warnings = append(v.Warnings, words.Warnings(measure.CalibrationWarnings(w.strip.CalibrationDoubts(w.taken)))...)
			printVerification(cmd.OutOrStdout(), w.strip, &v)
			if !v.Pass {
				return errNo
			}
			return nil
		},
	}
	w.flags(cmd)
	w.zeroFlag(cmd)
	cmd.Flags().Float64Var(&loadPercent, "load-limit", loadPercent, "how far the load may be off, `PERCENT`")
	cmd.Flags().Float64Var(&limits.CoPMM, "cop-limit-mm", limits.CoPMM, "how far the centre of pressure may be off, `MM`")
	return cmd
}

// presses takes the steps and measures them.
func (w *workshop) presses(args []string) ([]calibrate.Press, error) {
	steps, err := w.steps(args)
	if err != nil {
		return nil, err
	}
	all := make([]calibrate.Press, len(steps))
	for i, s := range steps {
		if all[i].LoadN, all[i].At, err = weightAt(s.what); err != nil {
			return nil, err
		}
	}
	zero, err := w.zero("Take everything off the strip, let go of it, and press Enter.")
	if err != nil {
		return nil, err
	}
	for i, s := range steps {
		at := all[i].At
		t, err := w.take(s, fmt.Sprintf("Press %d of %d: %.1f N in all on a pad with its middle at [%g, %g] mm. When it has settled, press Enter.",
			i+1, len(steps), all[i].LoadN, at[0], at[1]), loadFor)
		if err != nil {
			return nil, err
		}
		mean, n, err := calibrate.Settled(t.timeS, t.frames, zero, w.strip.SaturatesAt)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.of(i), err)
		}
		all[i].MeasuredN, all[i].MeasuredAt = calibrate.Feel(w.strip, mean, n)
	}
	return all, nil
}

func printVerification(out io.Writer, s *device.Strip, v *calibrate.Verdict) {
	passed := 0
	t := newTable(out)
	fmt.Fprintln(t, "press\tload N\tread N\toff %\tat mm\tread mm\toff mm\t")
	for i, p := range v.Presses {
		read, off, verdict := "none", "", "  pass"
		if !math.IsNaN(p.OffMM) {
			read, off = place(p.MeasuredAt), fmt.Sprintf("%.2f", p.OffMM)
		}
		if p.Pass {
			passed++
		} else {
			verdict = "  fail: " + p.Why
		}
		fmt.Fprintf(t, "%d\t%.1f\t%.1f\t%s\t%s\t%s\t%s\t%s\n", i+1, p.LoadN, p.MeasuredN, words.Number(100*p.LoadError, 1), place(p.At), read, off, verdict)
	}
	t.Flush()
	word := "passes"
	if !v.Pass {
		word = "does not pass"
	}
	fmt.Fprintf(out, "strip %s %s: %d of %s; load off by %s on average, %s root mean square; centre of pressure by %.2f mm root mean square\n",
		s.Name, word, passed, words.Count(len(v.Presses), "press", "presses"), words.Number(100*v.Bias, 1)+" %", percent(v.RMSLoad, 1), v.RMSCoPMM)
	fmt.Fprintf(out, "limits: %s\n", v.Limits.Basis)
	printWarnings(out, v.Warnings)
}

// place writes [medial, over].
func place(p [2]float64) string {
	return "[" + words.Number(p[0], 1) + ", " + words.Number(p[1], 1) + "]"
}
