package main

import (
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/scale"
	"aplomb/cmd/internal/bench"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
)

// calibration is common to the commands that calibrate a strip: their flags, the bench,
// and whether the result is written into the profile.
type calibration struct {
	named, port string
	baud        int
	zeroFile    string
	write, dry  bool
	book        lookup.Folder

	*bench.Bench                 // once open has been called
	person       *console.Person // nil without a user at the terminal
}

func (w *calibration) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&w.named, "strip", "", "profile `FILE`, or name of a strip in the logbook")
	f.StringVar(&w.port, "port", "", "`PORT` of the strip, to be led through the steps")
	f.IntVar(&w.baud, "baud", link.DefaultBaud, "speed of the port, `BITS` a second")
	logbookFlag(cmd, &w.book)
	complete(cmd, "strip", completeOrFiles("toml", completeCodes(stripNames)))
	complete(cmd, "port", portNames)
}

func (w *calibration) zeroFlag(cmd *cobra.Command) {
	cmd.Flags().StringVar(&w.zeroFile, "zero", "", "`FILE` of the strip unloaded, just before; default the zero in the profile")
}

func (w *calibration) keepFlags(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&w.write, "write", false, "write the result into the profile without asking")
	cmd.Flags().BoolVar(&w.dry, "dry-run", false, "only print it, and do not ask")
}

// open reads the strip's profile and, where a port was named, opens the port.
func (w *calibration) open(cmd *cobra.Command) (err error) {
	switch err := requireFlags(cmd, "strip"); {
	case err != nil:
		return err
	case w.write && w.dry:
		return usage.Errorf("--write and --dry-run: one or the other")
	case w.port != "" && w.zeroFile != "":
		return usage.Errorf("--zero %s: with --port the zero is taken first", w.zeroFile)
	}
	if err := checkBaud(w.baud); err != nil {
		return err
	}
	if cmd.Flags().Changed("baud") && w.port == "" {
		return usage.Errorf("--baud is of --port PORT: name the port")
	}
	p := lookup.ProfileInFile(w.named)
	if !lookup.IsFile(w.named) {
		p = lookup.ProfileInLogbook(&w.book, w.named)
	}
	stderr := cmd.ErrOrStderr()
	w.person = console.AtTerminal(cmd.Context(), stderr)
	if w.port != "" {
		w.Bench, err = bench.AtPort(cmd.Context(), p, stderr, w.person, w.port, w.baud)
	} else {
		w.Bench, err = bench.FromFiles(cmd.Context(), p, stderr)
	}
	if err == nil {
		w.ZeroFile = w.zeroFile
	}
	return err
}

// keep applies change to the strip and writes the result into the profile if --write is
// given or the user agrees. It then prints done.
func (w *calibration) keep(cmd *cobra.Command, change func(*device.Strip) error, done string) error {
	write, err := w.Outcome(change)
	if err != nil {
		return err
	}
	unchanged := func(why string) error {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s stays as it was: %s\n", w.Profile.Name, why)
		return nil
	}
	switch {
	case w.dry:
		return unchanged("--dry-run")
	case !w.write && w.person == nil:
		return unchanged("--write puts this into it")
	case !w.write:
		yes, err := w.person.Confirm(fmt.Sprintf("Write this into %s?", w.Profile.Name))
		if err != nil {
			return err
		}
		if !yes {
			return unchanged("as you say")
		}
	}
	if err := write(); err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s: %s\n", w.Profile.Name, done)
	return nil
}

// dayOfCheck returns the day given for a check, "" where there is none. A check at a port
// is dated today.
func dayOfCheck(typed, port string) (logbook.Day, error) {
	if typed == "" {
		return "", nil
	}
	if port != "" {
		return "", usage.Errorf("--date %s: a check with --port is made today", typed)
	}
	day, err := logbook.ParseDay(typed)
	if err != nil {
		return "", usage.New(fmt.Errorf("--date: %w", err))
	}
	if err := day.CheckPast(logbook.DayOf(time.Now())); err != nil {
		return "", usage.Errorf("--date %w", err)
	}
	return day, nil
}

// keepCheck stores a check in the logbook where that contains the strip, and prints what
// it stored or why it did not. day is "" where the check has its own.
func (w *calibration) keepCheck(cmd *cobra.Command, c scale.Check, day logbook.Day) error {
	if day != "" {
		c.Day = day.Time()
	}
	switch {
	case w.Profile.PutCheck == nil:
		fmt.Fprintf(cmd.ErrOrStderr(), "not kept: %s is a file; aplomb strip add puts it into the logbook, which keeps checks\n", w.Profile.Name)
		return nil
	case w.dry:
		fmt.Fprintln(cmd.ErrOrStderr(), "not kept: --dry-run")
		return nil
	}
	where, err := w.Profile.PutCheck(c)
	if err != nil {
		return fmt.Errorf("the check is not kept: %w", err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "check of %s kept: %s\n", c.Day.Format(time.DateOnly), where)
	return nil
}

// filesOfSteps completes the name of a file that a step is read from: a recording
// or CSV.
func filesOfSteps(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return []string{"mcap", "csv"}, cobra.ShellCompDirectiveFilterFileExt
}

// printDoubts prints the warnings about a strip's calibration as of today.
func printDoubts(w io.Writer, s *device.Strip) {
	output.Warnings(w, measure.CalibrationWarnings(s.CalibrationDoubts(time.Now())))
}
