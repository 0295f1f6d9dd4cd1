package main

import (
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

func newStripAdd() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "add FILE.toml…",
		Short: "Put strips into the logbook, from their profiles",
		Long: `Put strips into the logbook, each from its profile, under the name in that.

From then on the profile in the logbook counts; the file is not read again.`,
		Example: `  aplomb strip add left.toml right.toml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return misused("a strip's profile is missing, such as left.toml")
			}
			return nil
		},
		ValidArgsFunction: endingIn("toml"),
	}
	b.flag(cmd)
	cmd.RunE = b.beginning(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		for _, path := range args {
			s, err := device.ReadStrip(cmd.Context(), path)
			if err != nil {
				return err
			}
			if err := l.AddStrip(*s); err != nil {
				return stripThere(err, s.Name, path)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "strip %s added: %s foot, %s cells, calibrated: %s\n", s.Name, s.Foot, gridOf(s), calibratedOf(&s.Calibration))
			printWarnings(cmd.ErrOrStderr(), words.Warnings(measure.CalibrationWarnings(s.CalibrationDoubts(time.Now()))))
		}
		return nil
	})
	return cmd
}

func newStripList() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:               "list",
		Short:             "List the strips in the logbook",
		Args:              none,
		Example:           `  aplomb strip list`,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		all, err := l.Strips()
		if err != nil {
			return err
		}
		if len(all) == 0 {
			fmt.Fprintln(cmd.OutOrStdout(), "no strips: aplomb strip add FILE.toml adds one from its profile")
			return nil
		}
		recordings, err := l.Recordings(logbook.Filter{})
		if err != nil {
			return err
		}
		var rows [][]string
		for _, s := range all {
			versions, err := l.StripVersions(s.Name)
			if err != nil {
				return err
			}
			calibrated := "no"
			if s.Calibration.Measured() {
				calibrated = s.Calibration.Date.String()
			}
			made := madeIn(recordings, func(f *logbook.RecordedFoot) bool { return f.Strip == s.Name })
			rows = append(rows, []string{s.Name, s.Foot.String(), gridOf(&s.Strip), pitchOf(&s.Strip), calibrated, s.Calibration.ValidUntil().String(),
				seatOf(s.Mount), strconv.Itoa(len(versions)), strconv.Itoa(len(made))})
		}
		table(cmd.OutOrStdout(), []string{"strip", "foot", "grid", "pitch", "calibrated", "valid until", "seat sd", "versions", "recordings"}, rows)
		return nil
	})
	return cmd
}

func newStripEdit() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "edit NAME FILE.toml",
		Short: "Put another profile in the place of a strip's",
		Long: `Put the profile in a file in the place of the one in the logbook. The name in it
must be the strip's: recordings carry it.

If recordings were made with the profile as it was, another version begins, and
they keep the one that was true for them.`,
		Example: `  aplomb strip show L-01 --toml > left.toml
  aplomb strip edit L-01 left.toml`,
		Args: exactly("the strip's NAME", "its profile FILE.toml"),
		ValidArgsFunction: func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 0 {
				return b.codes(stripNames)(cmd, args, typed)
			}
			return endingIn("toml")(cmd, args, typed)
		},
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		before, err := l.Strip(args[0])
		if err != nil {
			return listed(err, "aplomb strip list")
		}
		read, err := device.ReadStrip(cmd.Context(), args[1])
		if err != nil {
			return err
		}
		if read.Name != before.Name {
			return misused("%s is the profile of strip %s, not of %s: aplomb strip add adds it", args[1], read.Name, before.Name)
		}
		if err := l.EditStrip(*read); err != nil {
			return err
		}
		s, err := l.Strip(before.Name)
		if err != nil {
			return err
		}
		out := cmd.OutOrStdout()
		if s.Version == before.Version {
			fmt.Fprintf(out, "strip %s changed\n", s.Name)
		} else {
			fmt.Fprintf(out, "strip %s, version %d from now on\n", s.Name, s.Version)
		}
		facts(out, stripFacts(&s.Strip)...)
		if s.Version != before.Version {
			recordings, err := l.Recordings(logbook.Filter{})
			if err != nil {
				return err
			}
			printKeeping(out, madeIn(recordings, stripVersion(s.Name, before.Version)), before.Version)
		}
		printWarnings(cmd.ErrOrStderr(), words.Warnings(measure.CalibrationWarnings(s.CalibrationDoubts(time.Now()))))
		return nil
	})
	return cmd
}

func newStripRemove() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "remove NAME",
		Short: "Take out a strip that no recording was made with",
		Long: `Take out a strip that no recording was made with, such as one added by mistake.

A strip that recordings were made with stays, for they would not say much
without it.`,
		Example:           `  aplomb strip remove L-01`,
		Args:              exactly("the strip's NAME"),
		ValidArgsFunction: b.codes(stripNames),
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		s, err := l.Strip(args[0])
		if err != nil {
			return listed(err, "aplomb strip list")
		}
		recordings, err := l.Recordings(logbook.Filter{})
		if err != nil {
			return err
		}
		if err := l.RemoveStrip(s.Name); err != nil {
			made := madeIn(recordings, func(f *logbook.RecordedFoot) bool { return f.Strip == s.Name })
			return inUse(err, "strip "+s.Name, made, "another profile of it goes in with aplomb strip edit")
		}
		fmt.Fprintf(cmd.OutOrStdout(), "strip %s removed\n", s.Name)
		return nil
	})
	return cmd
}
