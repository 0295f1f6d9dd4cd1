package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

func newStripShow() *cobra.Command {
	var b book
	var asFile bool
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "Show a strip's profile, and which recordings were made with it",
		Long: `Show a strip's profile as it is now, what there is to say of its calibration,
its versions, and which recordings were made with each.

--toml prints it as a profile's file instead.`,
		Example: `  aplomb strip show L-01
  aplomb strip show L-01 --toml > left.toml`,
		Args:              exactly("the strip's NAME"),
		ValidArgsFunction: b.codes(stripNames),
	}
	cmd.Flags().BoolVar(&asFile, "toml", false, "print it as a profile's file")
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		out := cmd.OutOrStdout()
		if asFile {
			s, err := l.Strip(args[0])
			if err == nil {
				fmt.Fprint(out, device.TOML(&s.Strip))
			}
			return listed(err, "aplomb strip list")
		}
		versions, err := l.StripVersions(args[0])
		if err != nil {
			return listed(err, "aplomb strip list")
		}
		recordings, err := l.Recordings(logbook.Filter{})
		if err != nil {
			return err
		}
		var states []state
		for _, s := range versions {
			states = append(states, state{s.Version, s.Current, stripFacts(&s.Strip), madeIn(recordings, stripVersion(s.Name, s.Version))})
			if s.Current {
				fmt.Fprintf(out, "strip %s\n", versioned(s.Name, s.Version, len(versions)))
				facts(out, stripFacts(&s.Strip)...)
				printWarnings(out, words.Warnings(measure.CalibrationWarnings(s.CalibrationDoubts(time.Now()))))
			}
		}
		printStates(out, states)
		return nil
	})
	return cmd
}

// stripVersion tells a foot that had that version of a strip's profile.
func stripVersion(name string, version int) func(*logbook.RecordedFoot) bool {
	return func(f *logbook.RecordedFoot) bool { return f.Strip == name && f.StripVersion == version }
}

// stripThere says what to do where a strip is in the logbook already.
func stripThere(err error, name, path string) error {
	if errors.Is(err, logbook.ErrExists) {
		return fmt.Errorf("%w: aplomb strip edit puts %s in its place", err, path)
	}
	return err
}

// stripFacts says a profile in words, by name, "" for what it does not say.
func stripFacts(s *device.Strip) []string {
	c := &s.Calibration
	seat := seatOf(s.Mount)
	if s.Mount.SeatMountings > 0 {
		seat += fmt.Sprintf(", measured in %s, %s degrees of freedom", words.Count(s.Mount.SeatMountings, "mounting", "mountings"), trimmed(s.Mount.SeatDOF()))
	} else {
		seat += ", not measured: aplomb strip seat does"
	}
	return []string{
		"foot", s.Foot.String(),
		"grid", gridOf(s) + ", pitch " + pitchOf(s) + ", cells of " + ruler("mm").size(s.CellMM),
		"order", s.Scan + ", from " + s.FirstCell,
		"converter", fmt.Sprintf("%d bits, saturated at %d counts", s.ADCBits, s.SaturatesAt),
		"lies", liesAt(s.Mount),
		"seat sd", seat,
		"calibrated", calibratedOf(c),
		"curve", curveOf(c),
		"range", between(c.RangeKPa, "kPa"),
		"cells", cellsOf(c),
		"hysteresis", shareOf(c.Hysteresis, " of the largest pressure, between up and down"),
		"creep", shareOf(c.CreepPerDecade, " in each tenfold of time"),
		"zero", between(c.ZeroCounts, "counts"),
		"noise", between(c.NoiseCounts, "counts"),
		"ghosting", ghostingOf(s.Ghosting),
	}
}

func gridOf(s *device.Strip) string { return fmt.Sprintf("%d × %d", s.Rows, s.Cols) }

func pitchOf(s *device.Strip) string { return ruler("mm").size(s.PitchMM) }

func seatOf(m device.Mount) string { return trimmed(m.SeatSDMM) + " mm" }

func liesAt(m device.Mount) string {
	if m.OffsetMM == [2]float64{} && m.RotationDeg == 0 {
		return "centred under the platform"
	}
	return fmt.Sprintf("its centre at %s mm from the platform's, turned by %s°", place(m.OffsetMM), trimmed(m.RotationDeg))
}

// calibratedOf says when the strip was calibrated and how long that is good.
func calibratedOf(c *device.Calibration) string {
	if c.Measured() {
		return fmt.Sprintf("%s, valid until %s", c.Date, c.ValidUntil())
	}
	return "no"
}

func curveOf(c *device.Calibration) string {
	switch {
	case c.Measured():
		return curveWords(calibrate.Of(c))
	case c.KPaPerCount > 0:
		return fmt.Sprintf("%.4g kPa a count", c.KPaPerCount)
	}
	return c.Curve
}

// cellsOf says how the cells differ.
func cellsOf(c *device.Calibration) string {
	differ := "differ by " + percent(c.GainSD, 1)
	if len(c.Gains) > 0 {
		return fmt.Sprintf("gains of %.2f to %.2f, beyond which they %s", slices.Min(c.Gains), slices.Max(c.Gains), differ)
	}
	if !c.Measured() {
		return differ + ", assumed"
	}
	return differ
}

// between says from where to where numbers go, "" for none.
func between(v []float64, unit string) string {
	if len(v) == 0 {
		return ""
	}
	lo, hi := trimmed(slices.Min(v)), trimmed(slices.Max(v))
	if lo == hi {
		return lo + " " + unit
	}
	return lo + " to " + hi + " " + unit
}

// shareOf writes a fraction, "" for 0.
func shareOf(fraction float64, of string) string {
	if fraction == 0 {
		return ""
	}
	return percent(fraction, 1) + of
}

func ghostingOf(g device.Ghosting) string {
	var said []string
	if g.TieOhm != 0 {
		said = append(said, fmt.Sprintf("idle lines tied through %.4g Ω", g.TieOhm))
	}
	if g.OneCountOhm != 0 {
		said = append(said, fmt.Sprintf("a cell of one count has %.4g Ω", g.OneCountOhm))
	}
	return strings.Join(said, ", ")
}
