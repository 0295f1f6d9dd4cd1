package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/device"
)

func newDancer() *cobra.Command {
	return family("dancer", "Keep who is measured, by code", `
Keep who is measured, by code.

A dancer has a code and never a name: keep the list of who is who elsewhere, or
not at all. Everything else is optional.`, `
  aplomb dancer add D7 --watch left --toe-shape sloping --longest-toe 1
  aplomb dancer edit D7 --note "Achilles, left, since March"
  aplomb dancer show D7
  aplomb dancer remove D7`,
		newDancerAdd(), newDancerList(), newDancerShow(), newDancerEdit(), newDancerRemove())
}

// dancerFlags are what can be said of a dancer.
func dancerFlags(cmd *cobra.Command) *settings[logbook.Dancer] {
	s := &settings[logbook.Dancer]{}
	s.whole(cmd, "birth-year", "`YEAR` of birth", func(d *logbook.Dancer) *int { return &d.BirthYear })
	s.flag(cmd, "pointe-years", "`YEARS` on pointe so far", nil, func(d *logbook.Dancer, v string) error {
		d.PointeYears = nil
		if v == "" {
			return nil
		}
		years, err := number(v)
		d.PointeYears = &years
		return err
	})
	s.word(cmd, "watch", "the `SIDE` being watched", []string{"left", "right"}, func(d *logbook.Dancer) *string { return &d.Watched })
	feet := func(name, usage string, words []string, set func(*logbook.Foot, string) error) {
		s.flag(cmd, name, usage, words, func(d *logbook.Dancer, v string) error { return eachFoot(&d.Feet, v, set) })
	}
	feet("toe-shape", "`WORD` for the toes: "+strings.Join(logbook.ToeShapes[:], ", ")+"; LEFT/RIGHT where the feet differ",
		logbook.ToeShapes[:], func(f *logbook.Foot, v string) error { f.ToeShape = v; return nil })
	feet("longest-toe", "`NUMBER` of the longest toe, 1 the big one; or LEFT/RIGHT", nil, func(f *logbook.Foot, v string) (err error) {
		f.LongestToe = 0
		if v != "" {
			f.LongestToe, err = whole(v)
		}
		return err
	})
	feet("foot-width", "`WORD` for the width of the feet: "+strings.Join(logbook.Widths[:], ", ")+"; or LEFT/RIGHT",
		logbook.Widths[:], func(f *logbook.Foot, v string) error { f.Width = v; return nil })
	feet("compressibility", "`WORD` for how far the forefoot gives: "+strings.Join(logbook.Compressibilities[:], ", ")+"; or LEFT/RIGHT",
		logbook.Compressibilities[:], func(f *logbook.Foot, v string) error { f.Compressibility = v; return nil })
	s.text(cmd, "note", "free `TEXT`, without a name in it", func(d *logbook.Dancer) *string { return &d.Note })
	return s
}

// eachFoot sets both feet to what was typed: one value for both, or the left's
// and the right's with a stroke between.
func eachFoot(feet *[2]logbook.Foot, typed string, set func(*logbook.Foot, string) error) error {
	left, right, two := strings.Cut(typed, "/")
	if !two {
		right = left
	}
	if err := set(&feet[device.Left], left); err != nil {
		return err
	}
	return set(&feet[device.Right], right)
}

func newDancerAdd() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "add CODE",
		Short: "Add a dancer",
		Long: `Add a dancer under a code, such as D7. The first one begins the logbook.

What is not said stays unknown; aplomb dancer edit says it later.`,
		Example: `  aplomb dancer add D7
  aplomb dancer add D7 --birth-year 2009 --pointe-years 3.5 --watch left \
      --toe-shape sloping --longest-toe 1/2`,
		Args:              exactly("the dancer's CODE"),
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	said := dancerFlags(cmd)
	b.flag(cmd)
	cmd.RunE = b.beginning(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		d := logbook.Dancer{Code: args[0]}
		if err := said.apply(&d); err != nil {
			return err
		}
		if err := l.AddDancer(d); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "dancer %s added\n", d.Code)
		return nil
	})
	return cmd
}

func newDancerEdit() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "edit CODE",
		Short: "Change what is known of a dancer",
		Long: `Change what is known of a dancer. What is not typed stays as it is; an empty
value, as in --note "", takes back what was said. The code itself stays:
recordings carry it.`,
		Example: `  aplomb dancer edit D7 --watch right
  aplomb dancer edit D7 --note ""`,
		Args:              exactly("the dancer's CODE"),
		ValidArgsFunction: b.codes(dancerCodes),
	}
	said := dancerFlags(cmd)
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if !said.any() {
			return misused("nothing to change: say what, as in --watch left")
		}
		d, err := l.Dancer(args[0])
		if err != nil {
			return listed(err, "aplomb dancer list")
		}
		if err := said.apply(&d); err != nil {
			return err
		}
		if err := l.EditDancer(d); err != nil {
			return err
		}
		printDancer(cmd.OutOrStdout(), d)
		return nil
	})
	return cmd
}

func newDancerList() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:               "list",
		Short:             "List the dancers",
		Args:              none,
		Example:           `  aplomb dancer list`,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		all, err := l.Dancers()
		if err != nil {
			return err
		}
		if len(all) == 0 {
			fmt.Fprintln(cmd.OutOrStdout(), "no dancers: aplomb dancer add CODE adds one")
			return nil
		}
		var rows [][]string
		for _, d := range all {
			visits, err := l.Visits(d.Code)
			if err != nil {
				return err
			}
			last := ""
			if len(visits) > 0 {
				last = visits[len(visits)-1].Name()
			}
			rows = append(rows, []string{d.Code, d.Watched, strconv.Itoa(len(visits)), last, d.Note})
		}
		table(cmd.OutOrStdout(), []string{"dancer", "watched", "visits", "last visit", "note"}, rows)
		return nil
	})
	return cmd
}

func newDancerShow() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:               "show CODE",
		Short:             "Show what is known of a dancer, and the visits",
		Example:           `  aplomb dancer show D7`,
		Args:              exactly("the dancer's CODE"),
		ValidArgsFunction: b.codes(dancerCodes),
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		d, err := l.Dancer(args[0])
		if err != nil {
			return listed(err, "aplomb dancer list")
		}
		printDancer(cmd.OutOrStdout(), d)
		visits, err := l.Visits(d.Code)
		if err != nil || len(visits) == 0 {
			return err
		}
		fmt.Fprintln(cmd.OutOrStdout())
		return listVisits(cmd.OutOrStdout(), l, d.Code, visits)
	})
	return cmd
}

func printDancer(w io.Writer, d logbook.Dancer) {
	fmt.Fprintf(w, "dancer %s\n", d.Code)
	born, years := "", ""
	if d.BirthYear > 0 {
		born = strconv.Itoa(d.BirthYear)
	}
	if d.PointeYears != nil {
		years = trimmed(*d.PointeYears)
	}
	facts(w, "born", born, "years on pointe", years, "watched side", d.Watched,
		"left foot", footWords(d.Feet[device.Left]), "right foot", footWords(d.Feet[device.Right]), "note", d.Note)
}

// footWords says what a foot is like, "" where nothing is known.
func footWords(f logbook.Foot) string {
	var said []string
	if f.ToeShape != "" {
		said = append(said, f.ToeShape+" toes")
	}
	if f.LongestToe > 0 {
		said = append(said, "longest toe "+strconv.Itoa(f.LongestToe))
	}
	if f.Width != "" {
		said = append(said, f.Width)
	}
	if f.Compressibility != "" {
		said = append(said, f.Compressibility+" compressibility")
	}
	return strings.Join(said, ", ")
}

func newDancerRemove() *cobra.Command {
	var b book
	var yes bool
	cmd := &cobra.Command{
		Use:   "remove CODE",
		Short: "Erase a dancer with everything of theirs",
		Long: `Erase a dancer with everything of theirs: visits, recordings and their files,
measures, and the pages of the database that they stood in. It cannot be undone.

Backups are not touched; those that still hold the dancer are named. Files are
removed and not written over: whoever needs more than that encrypts the disk.
On a terminal the code has to be typed again; a script says --yes.`,
		Example: `  aplomb dancer remove D7
  aplomb dancer remove D7 --yes`,
		Args:              exactly("the dancer's CODE"),
		ValidArgsFunction: b.codes(dancerCodes),
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		d, err := l.Dancer(args[0])
		if err != nil {
			return listed(err, "aplomb dancer list")
		}
		if !yes {
			if err := agreed(cmd, l, d.Code); err != nil {
				return err
			}
		}
		gone, err := l.DeleteDancer(cmd.Context(), d.Code)
		if err != nil {
			return err
		}
		printErasure(cmd, d.Code, gone)
		return nil
	})
	return cmd
}

// agreed has the code of a dancer who is to be erased typed again.
func agreed(cmd *cobra.Command, l *logbook.Logbook, code string) error {
	a := newAsker(cmd)
	if a == nil {
		return misused("dancer %s stays: nobody is there to ask; --yes erases without asking", code)
	}
	recordings, err := l.Recordings(logbook.Filter{Dancer: code})
	if err != nil {
		return err
	}
	visits, err := l.Visits(code)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.to, "This erases dancer %s, %d visits, %d recordings and all that was measured, for good.\n", code, len(visits), len(recordings))
	answer, err := a.ask("To erase, type the code again:")
	if err != nil {
		return err
	}
	if answer != code {
		return fmt.Errorf("dancer %s stays: %q is another code", code, answer)
	}
	return nil
}

func printErasure(cmd *cobra.Command, code string, gone logbook.Erasure) {
	out, stderr := cmd.OutOrStdout(), cmd.ErrOrStderr()
	fmt.Fprintf(out, "dancer %s erased, with %d recordings\n", code, gone.Recordings)
	for _, path := range gone.Copies {
		fmt.Fprintf(out, "%s held the dancer and was removed\n", path)
	}
	for _, path := range gone.Unread {
		fmt.Fprintf(stderr, "warning: %s belongs to no visit and cannot be read: whose it is nobody knows; remove it yourself if in doubt\n", path)
	}
	for _, held := range gone.Backups {
		if held.Why == "" {
			fmt.Fprintf(stderr, "warning: the backup %s still holds the dancer: aplomb dancer remove %s --logbook %s erases there too\n", held.Path, asTyped(code), asTyped(held.Path))
		} else {
			fmt.Fprintf(stderr, "warning: the backup %s may still hold the dancer: %s\n", held.Path, held.Why)
		}
	}
}
