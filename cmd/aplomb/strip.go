package main

import (
	"errors"
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

func newStrip() *cobra.Command {
	return commandGroup("strip", "Calibrate strips, measure how mountings repeat, keep profiles", `
Calibrate a strip, verify it, measure how well mountings repeat, print a
template for mounting it, and keep its profile in the logbook.

Lay the strip on a flat, hard plate and do these in order: zero, gains,
calibrate, verify. You need known weights and a stiff pad of known size with
something soft and even under it. The weights go on the pad, on the bench; no
person stands on the strip. seat is done with the strip under a shoe.

With --port a command leads through the steps in the terminal and shows what the
strip reads. Without it, name the recording or CSV file of each step. The result
is printed; it is written into the profile only if you confirm it, or with
--write. Until then, and whenever something is refused, the profile stays as it
was.

--strip names the file of a profile, or a strip that aplomb strip new or aplomb
strip add has put into the logbook. Recordings keep the profile they were made
with.`, `
  aplomb strip zero --strip left.toml --port /dev/ttyUSB0
  aplomb strip gains --strip left.toml --port /dev/ttyUSB0 \
      press press press press
  aplomb strip calibrate --strip left.toml --port /dev/ttyUSB0 --pad-mm 20x20 \
      5kg 10kg 20kg 30kg 40kg 30kg 20kg 10kg 5kg
  aplomb strip verify --strip left.toml --port /dev/ttyUSB0 \
      10kg@0,0 10kg@-10,0 10kg@10,0 10kg@0,-5 10kg@0,5
  aplomb strip seat --strip left.toml m1.mcap m2.mcap m3.mcap m4.mcap \
      m5.mcap m6.mcap
  aplomb strip new --port /dev/ttyUSB0
  aplomb strip add left.toml right.toml
  aplomb strip template --shoe A --out A.pdf
  aplomb strip zero --strip L-01 --port /dev/ttyUSB0`,
		newStripZero(), newStripGains(), newStripCalibrate(), newStripVerify(), newStripSeat(),
		newStripTemplate(), newStripNew(), newStripAdd(), newStripList(), newStripShow(), newStripEdit(), newStripRemove())
}

func newStripAdd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "add FILE.toml…",
		Short: "Put strips into the logbook, from their profiles",
		Long: `Put strips into the logbook, each from its profile and under the name in it.

From then on the profile in the logbook is used; the file is not read again.`,
		Example: `  aplomb strip add left.toml right.toml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage.Errorf("a strip's profile is missing, such as left.toml")
			}
			return nil
		},
		ValidArgsFunction: completeFiles("toml"),
	}
	var folder lookup.Folder
	logbookFlag(cmd, &folder)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		var all []*device.Strip
		for _, path := range args {
			s, err := device.ReadStrip(cmd.Context(), path)
			if err != nil {
				return err
			}
			if err := logbook.CheckStrip(*s); err != nil {
				return usage.New(err)
			}
			all = append(all, s)
		}
		return folder.BeginWith(cmd.ErrOrStderr(), func(l *logbook.Logbook) error {
			for i, s := range all {
				if err := l.AddStrip(*s); err != nil {
					return explainNotAdded(err, args[i])
				}
				fmt.Fprintf(cmd.OutOrStdout(), "strip %s added: %s foot, %s cells, calibrated: %s\n", s.Name, s.Foot, output.Grid(s), output.Calibrated(&s.Calibration))
				printDoubts(cmd.ErrOrStderr(), s)
			}
			return nil
		})
	}
	return cmd
}

func newStripList() *cobra.Command {
	cmd := &cobra.Command{Short: "List the strips in the logbook", Example: `  aplomb strip list`}
	headings := []string{"strip", "foot", "grid", "pitch", "calibrated", "valid until", "seat sd", "versions", "recordings"}
	return listCommand(cmd, "no strips: aplomb strip new NAME makes one from questions, aplomb strip add FILE.toml adds one from its profile", headings, func(l *logbook.Logbook) (rows [][]string, err error) {
		all, err := l.Strips()
		if err != nil {
			return nil, err
		}
		for _, s := range all {
			versions, err := l.StripVersions(s.Name)
			if err != nil {
				return nil, err
			}
			made, err := strips.recordingsWith(l, s.Name, 0)
			if err != nil {
				return nil, err
			}
			calibrated := "no"
			if s.Calibration.Measured() {
				calibrated = s.Calibration.Date.String()
			}
			rows = append(rows, []string{s.Name, s.Foot.String(), output.Grid(&s.Strip), output.Pitch(&s.Strip), calibrated, s.Calibration.ValidUntil().String(),
				output.SeatSD(s.Mount), strconv.Itoa(len(versions)), strconv.Itoa(len(made))})
		}
		return rows, nil
	}, output.StripsJSON)
}

func newStripEdit() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "edit NAME FILE.toml",
		Short: "Replace the profile of a strip",
		Long: `Replace the profile in the logbook by one from a file. It must have the
strip's name, because recordings carry that.

If recordings were made with the profile as it was, a new version begins, and
they keep theirs.`,
		Example: `  aplomb strip show L-01 --toml > left.toml
  aplomb strip edit L-01 left.toml`,
		Args: exactArgs("the strip's NAME", "its profile FILE.toml"),
		ValidArgsFunction: func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 0 {
				return completeCodes(stripNames)(cmd, args, typed)
			}
			return completeFiles("toml")(cmd, args, typed)
		},
	}
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		before, err := l.Strip(args[0])
		if err != nil {
			return strips.listHint(err)
		}
		read, err := device.ReadStrip(cmd.Context(), args[1])
		if err != nil {
			return err
		}
		if read.Name != before.Name {
			return usage.Errorf("%s is the profile of strip %s, not of %s: aplomb strip add adds it", args[1], read.Name, before.Name)
		}
		if err := l.EditStrip(*read); err != nil {
			return err
		}
		s, err := l.Strip(before.Name)
		if err != nil {
			return err
		}
		out := cmd.OutOrStdout()
		strips.printVersion(out, s.Name, before.Version, s.Version)
		text.Facts(out, output.StripFacts(&s.Strip)...)
		if err := strips.printKeeping(out, l, s.Name, before.Version, s.Version); err != nil {
			return err
		}
		printDoubts(cmd.ErrOrStderr(), &s.Strip)
		return nil
	})
}

func newStripRemove() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "remove NAME",
		Short: "Remove a strip that no recording was made with",
		Long: `Remove a strip that no recording was made with, such as one added by mistake,
with its checks and agreements.

A strip that recordings were made with stays, because they need it.`,
		Example:           `  aplomb strip remove L-01`,
		Args:              exactArgs("the strip's NAME"),
		ValidArgsFunction: completeCodes(stripNames),
	}
	find := func(l *logbook.Logbook, typed string) (string, error) {
		s, err := l.Strip(typed)
		return s.Name, err
	}
	return strips.removeCommand(cmd, "replace its profile with aplomb strip edit", find, (*logbook.Logbook).RemoveStrip)
}

func newStripShow() *cobra.Command {
	var asFile bool
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "Show a strip's profile, and which recordings were made with it",
		Long: `Show a strip's present profile, the state of its calibration, its
versions, the recordings made with each, its last checks with known weights
(aplomb strip verify), and how it agreed with reference instruments: bias ± half
of the width between the limits of agreement (aplomb agree).

--toml prints it as a profile file instead.`,
		Example: `  aplomb strip show L-01
  aplomb strip show L-01 --toml > left.toml`,
		Args:              exactArgs("the strip's NAME"),
		ValidArgsFunction: completeCodes(stripNames),
	}
	cmd.Flags().BoolVar(&asFile, "toml", false, "print it as a profile file")
	asJSON := jsonFlag(cmd)
	oneOf(cmd, "toml", "json")
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		out := cmd.OutOrStdout()
		if asFile {
			s, err := l.Strip(args[0])
			if err == nil {
				fmt.Fprint(out, device.TOML(&s.Strip))
			}
			return strips.listHint(err)
		}
		versions, err := l.StripVersions(args[0])
		if err != nil {
			return strips.listHint(err)
		}
		if *asJSON {
			return printJSON(cmd)(output.StripJSON(l, versions, time.Now()))
		}
		var all []output.Version
		for _, s := range versions {
			made, err := strips.recordingsWith(l, s.Name, s.Version)
			if err != nil {
				return err
			}
			all = append(all, output.Version{Number: s.Version, Current: s.Current, Facts: output.StripFacts(&s.Strip), Made: made})
			if s.Current {
				fmt.Fprintf(out, "strip %s\n", output.Versioned(s.Name, s.Version, len(versions)))
				text.Facts(out, output.StripFacts(&s.Strip)...)
				printDoubts(out, &s.Strip)
			}
		}
		output.Versions(out, all)
		checks, err := l.StripChecks(args[0])
		if err != nil {
			return err
		}
		output.StripChecks(out, checks)
		agreed, err := l.Agreements(args[0])
		output.Agreements(out, agreed)
		return err
	})
}

// explainNotAdded adds, to the error that a strip exists, the command that replaces
// its profile.
func explainNotAdded(err error, path string) error {
	if errors.Is(err, logbook.ErrExists) {
		return fmt.Errorf("%w: aplomb strip edit replaces it by %s", err, path)
	}
	return err
}
