package main

import (
	"fmt"
	"io"
	"strconv"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/device"
	"aplomb/plots/screen"
	"aplomb/plots/words"
)

func newShoeList() *cobra.Command {
	var b book
	unit := ruler("mm")
	cmd := &cobra.Command{
		Use:               "list",
		Short:             "List the shoes, as they are now",
		Args:              none,
		Example:           `  aplomb shoe list`,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	unit.flag(cmd, "`UNIT` of lengths")
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		all, err := l.Shoes()
		if err != nil {
			return err
		}
		if len(all) == 0 {
			fmt.Fprintln(cmd.OutOrStdout(), "no shoes: aplomb shoe add CODE adds one")
			return nil
		}
		var rows [][]string
		for _, s := range all {
			recordings, err := l.Recordings(logbook.Filter{Shoe: s.Code})
			if err != nil {
				return err
			}
			rows = append(rows, []string{s.Code, unit.size(s.Size()), shapeOf(&s.Shoe), s.Box, unit.length(s.CrownMM), shankOf(&s.Shoe),
				known(s.HoursWorn, ""), s.Owner, strconv.Itoa(len(recordings))})
		}
		table(cmd.OutOrStdout(), []string{"shoe", "platform", "shape", "box", "crown", "shank", "hours", "owner", "recordings"}, rows)
		return nil
	})
	return cmd
}

func newShoeShow() *cobra.Command {
	var b book
	var asFile bool
	unit := ruler("mm")
	cmd := &cobra.Command{
		Use:   "show CODE",
		Short: "Show a shoe, and which recordings were made with it",
		Long: `Show a shoe as it is now, its versions, and the recordings made with each.

--toml prints it as a shoe file instead.`,
		Example: `  aplomb shoe show A
  aplomb shoe show A --unit inch
  aplomb shoe show A --toml > A.toml`,
		Args:              exactly("the shoe's CODE"),
		ValidArgsFunction: b.codes(shoeCodes),
	}
	unit.flag(cmd, "`UNIT` of lengths")
	cmd.Flags().BoolVar(&asFile, "toml", false, "print it as a shoe file")
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		versions, err := l.ShoeVersions(args[0])
		if err != nil {
			return listed(err, "aplomb shoe list")
		}
		out := cmd.OutOrStdout()
		var recordings []logbook.Recording
		if !asFile {
			if recordings, err = l.Recordings(logbook.Filter{Shoe: args[0]}); err != nil {
				return err
			}
		}
		var states []state
		for _, s := range versions {
			states = append(states, state{s.Version, s.Current, shoeFacts(&s, unit), madeIn(recordings, shoeVersion(s.Code, s.Version))})
			switch {
			case s.Current && asFile:
				fmt.Fprint(out, device.TOML(&s.Shoe))
				return nil
			case s.Current:
				fmt.Fprintf(out, "shoe %s\n", versioned(s.Code, s.Version, len(versions)))
				printShoe(out, &s, unit)
			}
		}
		printStates(out, states)
		return nil
	})
	return cmd
}

// printShoe draws a shoe's outline and says all that is known of it.
func printShoe(w io.Writer, s *logbook.Shoe, unit ruler) {
	printOutline(w, s)
	facts(w, shoeFacts(s, unit)...)
}

func printOutline(w io.Writer, s *logbook.Shoe) { fmt.Fprintln(w, screen.Outline(s.Outline())) }

// printDoubt warns of a shoe that is hardly so.
func printDoubt(w io.Writer, s *logbook.Shoe) {
	if doubt := s.Doubt(); doubt != "" {
		printWarnings(w, []string{doubt})
	}
}

// shoeFacts says what a shoe is like, by name, "" for what is not known.
func shoeFacts(s *logbook.Shoe, unit ruler) []string {
	shape := shapeOf(&s.Shoe)
	if n := len(s.OutlineMM); n > 0 {
		shape += " with " + words.Count(n, "point", "points")
	} else if word := trimmed(s.OutlineExponent); shape != word {
		shape += " (exponent " + word + ")"
	} else {
		shape = "exponent " + word
	}
	return []string{
		"platform", unit.size(s.Size()) + ", " + shape,
		"box", s.Box,
		"crown", unit.length(s.CrownMM),
		"shank", shankOf(&s.Shoe),
		"vamp", unit.length(s.VampMM),
		"wings", unit.length(s.WingsMM),
		"padding", s.Padding,
		"hours worn", known(s.HoursWorn, ""),
		"owner", s.Owner,
	}
}

// shapeOf says the shape of a platform in a word or as a number.
func shapeOf(s *device.Shoe) string {
	if len(s.OutlineMM) > 0 {
		return "traced"
	}
	for _, shape := range shapes {
		if shape.exponent == s.OutlineExponent {
			return shape.word
		}
	}
	return trimmed(s.OutlineExponent)
}

// shankOf says strength and length of the shank.
func shankOf(s *device.Shoe) string {
	if s.Shank != "" && s.ShankLength != "" {
		return s.Shank + ", " + s.ShankLength
	}
	return s.Shank + s.ShankLength
}

// shoeVersion tells a foot that wore that version of a shoe.
func shoeVersion(code string, version int) func(*logbook.RecordedFoot) bool {
	return func(f *logbook.RecordedFoot) bool { return f.Shoe == code && f.ShoeVersion == version }
}
