package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/device"
)

func newShoe() *cobra.Command {
	return family("shoe", "Keep the shoes, as a ruler found them", `
Keep the shoes, as a ruler found them.

A shoe has a code of your own, the width and depth of its platform and the shape
of that; everything else is optional. Recordings keep the shoe they were made
with: what is edited after them is another version.`, `
  aplomb shoe add A
  aplomb shoe add B --platform 39x24 --shape squarish --box square \
      --crown 27 --shank hard
  aplomb shoe list
  aplomb shoe show A
  aplomb shoe edit A --hours 6 --shank soft
  aplomb shoe remove A`,
		newShoeAdd(), newShoeList(), newShoeShow(), newShoeEdit(), newShoeRemove())
}

func newShoeAdd() *cobra.Command {
	var b book
	var f shoeFlags
	cmd := &cobra.Command{
		Use:   "add CODE",
		Short: "Add a shoe",
		Long: `Add a shoe under a code, such as A.

On a terminal it asks for width, depth and shape of the platform, then for the
rest, which Enter skips, draws the outline with its kern, and asks whether that
is right. Flags say the same; nothing is asked once they say what the platform
is like: --platform, --outline or --file. A shape that is not said is rounded.

Lengths are in mm or, with --unit inch, in inches; 24, 2.4cm and 15/16in all go.`,
		Example: `  aplomb shoe add A
  aplomb shoe add A --platform 36x22 --shape rounded --box tapered --crown 24 \
      --shank soft --shank-length full --padding gel --hours 4 --owner D7
  aplomb shoe add A --platform "1 7/16 x 7/8" --unit inch
  aplomb shoe add A --outline traced.svg --box square
  aplomb shoe add A --file A.toml`,
		Args:              exactly("the shoe's CODE"),
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	f.flags(cmd, &b)
	cmd.RunE = b.beginning(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		s := logbook.Shoe{Shoe: device.Shoe{Code: args[0]}}
		if err := device.CheckCode(s.Code); err != nil {
			return misuse{err}
		}
		if strings.HasSuffix(s.Code, ".toml") {
			return misused("shoe %s would be taken for a file wherever a shoe is named: give it a code, as in aplomb shoe add A --file %s", s.Code, asTyped(s.Code))
		}
		if err := f.apply(&s); err != nil {
			return err
		}
		var person *asker
		if !f.shaped() {
			if person = newAsker(cmd); person == nil {
				return misused("--platform WIDTHxDEPTH is missing, such as --platform 36x22, or --outline FILE or --file FILE")
			}
			if err := addable(l, &s); err != nil {
				return err
			}
			if err := f.ask(person, &s); err != nil {
				return err
			}
		}
		if err := l.AddShoe(s); err != nil {
			return notKept(err)
		}
		fmt.Fprintf(cmd.OutOrStdout(), "shoe %s added\n", s.Code)
		if person == nil {
			printShoe(cmd.OutOrStdout(), &s, f.unit)
			printDoubt(cmd.ErrOrStderr(), &s)
		}
		return nil
	})
	return cmd
}

func newShoeEdit() *cobra.Command {
	var b book
	var f shoeFlags
	cmd := &cobra.Command{
		Use:   "edit CODE",
		Short: "Say what a shoe is like now",
		Long: `Say what a shoe is like now, as after some hours or with other padding. What is
not typed stays as it is; an empty value, as in --padding "", takes back what
was said.

If recordings were made with the shoe as it was, another version begins, and
they keep the one that was true for them. The code itself stays: recordings
carry it.`,
		Example: `  aplomb shoe edit A --hours 6
  aplomb shoe edit A --padding "" --shank medium`,
		Args:              exactly("the shoe's CODE"),
		ValidArgsFunction: b.codes(shoeCodes),
	}
	f.flags(cmd, &b)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if !f.any() {
			return misused("nothing to change: say what, as in --hours 6")
		}
		before, err := l.Shoe(args[0])
		if err != nil {
			return listed(err, "aplomb shoe list")
		}
		s := before
		if err := f.apply(&s); err != nil {
			return err
		}
		if err := l.EditShoe(s); err != nil {
			return notKept(err)
		}
		if s, err = l.Shoe(s.Code); err != nil {
			return err
		}
		out := cmd.OutOrStdout()
		if s.Version == before.Version {
			fmt.Fprintf(out, "shoe %s changed\n", s.Code)
		} else {
			fmt.Fprintf(out, "shoe %s, version %d from now on\n", s.Code, s.Version)
		}
		if f.shaped() || f.has("shape") {
			printOutline(out, &s)
		}
		facts(out, shoeFacts(&s, f.unit)...)
		printDoubt(cmd.ErrOrStderr(), &s)
		if s.Version == before.Version {
			return nil
		}
		recordings, err := l.Recordings(logbook.Filter{Shoe: s.Code})
		if err != nil {
			return err
		}
		printKeeping(out, madeIn(recordings, shoeVersion(s.Code, before.Version)), before.Version)
		return nil
	})
	return cmd
}

func newShoeRemove() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "remove CODE",
		Short: "Take out a shoe that no recording was made with",
		Long: `Take out a shoe that no recording was made with, such as one added by mistake.

A shoe that recordings were made with stays, for they would not say much without
it.`,
		Example:           `  aplomb shoe remove A`,
		Args:              exactly("the shoe's CODE"),
		ValidArgsFunction: b.codes(shoeCodes),
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		s, err := l.Shoe(args[0])
		if err != nil {
			return listed(err, "aplomb shoe list")
		}
		recordings, err := l.Recordings(logbook.Filter{Shoe: s.Code})
		if err != nil {
			return err
		}
		if err := l.RemoveShoe(s.Code); err != nil {
			return inUse(err, "shoe "+s.Code, recordings, "what it is like now is said with aplomb shoe edit")
		}
		fmt.Fprintf(cmd.OutOrStdout(), "shoe %s removed\n", s.Code)
		return nil
	})
	return cmd
}

// notKept says which command helps where a shoe could not be added or changed.
func notKept(err error) error {
	if errors.Is(err, logbook.ErrExists) {
		return fmt.Errorf("%w: aplomb shoe edit says what it is like now", err)
	}
	return listed(err, "aplomb dancer list") // the owner
}

// addable reports, before anything is asked, what a shoe could not be added for.
func addable(l *logbook.Logbook, s *logbook.Shoe) error {
	if _, err := l.Shoe(s.Code); err == nil {
		return notKept(fmt.Errorf("shoe %q: %w", s.Code, logbook.ErrExists))
	}
	if s.Owner == "" {
		return nil
	}
	_, err := l.Dancer(s.Owner)
	return notKept(err)
}
