package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/link"
)

func newStrip() *cobra.Command {
	return family("strip", "Calibrate the strips, see how mountings repeat, keep profiles", `
Calibrate a strip, verify it, see how well a mounting repeats, and keep its
profile in the logbook.

Lay the strip on a flat, hard plate and take these in turn: zero, gains,
calibrate, verify. It takes known weights and a stiff pad of known size with
something soft and even under it. The weights go on the pad, on the bench;
nobody stands on anything. seat is done with the strip under a shoe.

With --port a command asks for one step after the other in the terminal and
shows what the strip reads. Without, every step is named with the recording or
CSV file of it. The outcome is printed; into the profile it goes only when you
say yes, or with --write. Until then, and whenever something is refused, the
profile stays as it was.

--strip names a profile's file or, once aplomb strip add has put it there, the
strip in the logbook. Recordings keep the profile they were made with.`, `
  aplomb strip zero --strip left.toml --port /dev/ttyUSB0
  aplomb strip gains --strip left.toml --port /dev/ttyUSB0 \
      press press press press
  aplomb strip calibrate --strip left.toml --port /dev/ttyUSB0 --pad-mm 20x20 \
      5kg 10kg 20kg 30kg 40kg 30kg 20kg 10kg 5kg
  aplomb strip verify --strip left.toml --port /dev/ttyUSB0 \
      10kg@0,0 10kg@-10,0 10kg@10,0 10kg@0,-5 10kg@0,5
  aplomb strip seat --strip left.toml m1.mcap m2.mcap m3.mcap m4.mcap \
      m5.mcap m6.mcap
  aplomb strip add left.toml right.toml
  aplomb strip zero --strip L-01 --port /dev/ttyUSB0`,
		newStripZero(), newStripGains(), newStripCalibrate(), newStripVerify(), newStripSeat(),
		newStripAdd(), newStripList(), newStripShow(), newStripEdit(), newStripRemove())
}

// workshop is what the strip commands share: the profile worked on, where its
// readings come from, and whether the outcome is kept.
type workshop struct {
	named, port string
	baud        int
	zeroFile    string
	write, dry  bool
	book        book

	cmd   *cobra.Command
	kept  profile
	strip *device.Strip
	guide *guide    // nil where readings come from files
	taken time.Time // when the readings were taken
	last  float64   // time of the last frame of the step before, s
}

func (w *workshop) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&w.named, "strip", "", "profile `FILE`, or name of a strip in the logbook")
	f.StringVar(&w.port, "port", "", "`PORT` of the strip, to be led through the steps")
	f.IntVar(&w.baud, "baud", link.DefaultBaud, "speed of the port, `BITS` a second")
	w.book.flag(cmd)
	complete(cmd, "strip", orFiles("toml", w.book.codes(stripNames)))
	complete(cmd, "port", portNames)
}

func (w *workshop) zeroFlag(cmd *cobra.Command) {
	cmd.Flags().StringVar(&w.zeroFile, "zero", "", "`FILE` of the strip unloaded, just before; default the zero in the profile")
}

func (w *workshop) keepFlags(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&w.write, "write", false, "write the outcome into the profile without asking")
	cmd.Flags().BoolVar(&w.dry, "dry-run", false, "only print it, and do not ask")
}

// open reads the profile and, where a port is named, opens it.
func (w *workshop) open(cmd *cobra.Command) (err error) {
	w.cmd = cmd
	switch err := needed(cmd, "strip"); {
	case err != nil:
		return err
	case w.write && w.dry:
		return misused("--write and --dry-run: one or the other")
	case w.port != "" && w.zeroFile != "":
		return misused("--zero %s: with --port the zero is taken first", w.zeroFile)
	case w.baud < 1:
		return misused("--baud %d: the speed that the strip sends at, such as %d", w.baud, link.DefaultBaud)
	}
	w.kept = profileInFile(w.named)
	if !isFile(w.named) {
		w.kept = profileInBook(&w.book, w.named)
	}
	if w.strip, err = w.kept.read(); err != nil {
		return err
	}
	w.taken = time.Now()
	if w.port != "" {
		w.guide, err = newGuide(cmd, w)
	}
	return err
}

func (w *workshop) close() {
	if w.guide != nil {
		w.guide.close()
	}
}

// buildable reports, before any work is done, a calibration that is not to be
// built upon, and a profile that could not take the outcome.
func (w *workshop) buildable() error {
	if err := w.strip.Calibration.Intact(w.strip); err != nil {
		return fmt.Errorf("%s: %w: take all but kpa_per_count out of [calibration], and begin with aplomb strip zero", w.kept.name, err)
	}
	return w.changeable()
}

// changeable reports a profile that is written too strangely to take the outcome.
func (w *workshop) changeable() error {
	trial := *w.strip
	trial.Calibration.ValidDays++
	trial.Mount.SeatSDMM++
	_, err := w.kept.replace(&trial)
	return err
}

// keep writes what change makes of the strip into its profile, where that is
// wanted. done says what was written.
func (w *workshop) keep(change func(*device.Strip) error, done string) error {
	changed := *w.strip
	if err := change(&changed); err != nil {
		return err
	}
	write, err := w.kept.replace(&changed)
	if err != nil {
		return err
	}
	stderr := w.cmd.ErrOrStderr()
	stays := func(why string) error {
		fmt.Fprintf(stderr, "%s stays as it was: %s\n", w.kept.name, why)
		return nil
	}
	switch {
	case w.dry:
		return stays("--dry-run")
	case !w.write && w.guide == nil && !atTerminal(w.cmd):
		return stays("--write puts this into it")
	case !w.write:
		yes, err := w.confirm(fmt.Sprintf("Write this into %s? [y/N] ", w.kept.name))
		if err != nil {
			return err
		}
		if !yes {
			return stays("as you say")
		}
	}
	if err := write(); err != nil {
		return err
	}
	fmt.Fprintf(w.cmd.OutOrStdout(), "%s: %s\n", w.kept.name, done)
	return nil
}

// renewed signs a calibration whose date stays: the part that it tells the age
// of was not measured again.
func renewed(s *device.Strip) {
	if s.Calibration.Measured() {
		s.Calibration.SetHash(s)
	}
}

// dated gives a calibration the day of its readings, and signs it.
func (w *workshop) dated(s *device.Strip) {
	s.Calibration.Date = device.DateOf(w.taken)
	s.Calibration.SetHash(s)
}
