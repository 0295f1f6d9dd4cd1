package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/forms"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

func newShoe() *cobra.Command {
	return commandGroup("shoe", "Manage the shoes and their dimensions", `
Manage the shoes and their dimensions.

A shoe has a code that you choose, and the width, depth and shape of its
platform; everything else is optional. Recordings keep the shoe as it was: a
later edit makes a new version.`, `
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
	f := forms.NewShoe()
	cmd := &cobra.Command{
		Use:   "add CODE",
		Short: "Add a shoe",
		Long: fmt.Sprintf(`Add a shoe under a code, such as A.

On a terminal it asks for width, depth and shape of the platform, then for the
rest, which Enter skips, draws the outline with its kern, and asks whether that
is right. Flags do the same; nothing is asked if they describe the platform:
--platform, --outline or --file. The default shape is rounded.

Lengths are in mm or, with --unit inch, in inches; 24, 2.4cm and 15/16in are all
accepted. An improbable value, such as width and depth swapped, is asked again
or causes a warning; an impossible crown is refused.

A warning names the strips of the logbook that are too small for the platform,
because they would cover it in less than %.0f %% of mountings. That is computed
from how far the cells reach beyond it and how well mountings repeat (seat_sd_mm
of the profile), without rotation.`, 100*output.CoverEnough),
		Example: `  aplomb shoe add A
  aplomb shoe add A --platform 36x22 --shape rounded --box tapered --crown 24 \
      --shank soft --shank-length full --padding gel --hours 4 --owner D7
  aplomb shoe add A --platform "1 7/16 x 7/8" --unit inch
  aplomb shoe add A --outline traced.svg --box square
  aplomb shoe add A --file A.toml`,
		Args:              exactArgs("the shoe's CODE"),
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	shoeFlags(cmd, f)
	var folder lookup.Folder
	logbookFlag(cmd, &folder)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		s := logbook.Shoe{Shoe: device.Shoe{Code: args[0]}}
		if err := device.CheckCode(s.Code); err != nil {
			return usage.New(err)
		}
		if strings.HasSuffix(s.Code, ".toml") {
			return usage.Errorf("shoe %s would be taken for a file wherever a shoe is named: give it a code, as in aplomb shoe add A --file %s", s.Code, text.Quoted(s.Code))
		}
		renamed, err := f.Apply(cmd.Context(), &s)
		if err != nil {
			return err
		}
		var person *console.Person
		if !f.Shaped() {
			if person = console.AtTerminal(cmd.Context(), cmd.ErrOrStderr()); person == nil {
				return usage.Errorf("--platform WIDTHxDEPTH is missing, such as --platform 36x22, or --outline FILE or --file FILE")
			}
		}
		if err := checkAddable(&folder, &s); err != nil {
			return err
		}
		if person != nil {
			if err := f.Ask(person, &s); err != nil {
				return err
			}
		}
		if err := logbook.CheckShoe(s); err != nil {
			return usage.New(err)
		}
		return folder.BeginWith(cmd.ErrOrStderr(), func(l *logbook.Logbook) error {
			if err := l.AddShoe(s); err != nil {
				return explainNotKept(err)
			}
			tellRenamed(cmd, f, renamed, s.Code)
			fmt.Fprintf(cmd.OutOrStdout(), "shoe %s added\n", s.Code)
			if person == nil {
				output.Shoe(cmd.OutOrStdout(), &s, f.Unit)
				output.Doubts(cmd.ErrOrStderr(), s.Doubts())
			}
			return warnTooSmall(cmd, l, s)
		})
	}
	return cmd
}

// warnTooSmall prints which strips of the logbook are too small for shoes.
func warnTooSmall(cmd *cobra.Command, l *logbook.Logbook, all ...logbook.Shoe) error {
	kept, err := l.Strips()
	if err != nil {
		return err
	}
	var strips []*device.Strip
	for i := range kept {
		strips = append(strips, &kept[i].Strip)
	}
	for _, s := range all {
		text.Warnings(cmd.ErrOrStderr(), output.TooSmall(&s.Shoe, strips...))
	}
	return nil
}

func newShoeEdit() *cobra.Command {
	f := forms.NewShoe()
	cmd := &cobra.Command{
		Use:   "edit CODE",
		Short: "Change the description of a shoe",
		Long: `Change the description of a shoe, for example after some hours of wear or
with other padding.

` + editing + `
` + codeStays + `

If recordings were made with the shoe as it was, a new version begins, and they
keep theirs. A warning names the strips that are too small for it, as aplomb
shoe add does.`,
		Example: `  aplomb shoe edit A --hours 6
  aplomb shoe edit A --padding "" --shank medium`,
		Args:              exactArgs("the shoe's CODE"),
		ValidArgsFunction: completeCodes(shoeCodes),
	}
	shoeFlags(cmd, f)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if !f.Any() {
			return usage.Errorf("nothing to change: name a value, such as --hours 6")
		}
		before, err := l.Shoe(args[0])
		if err != nil {
			return shoes.listHint(err)
		}
		s := before
		renamed, err := f.Apply(cmd.Context(), &s)
		if err != nil {
			return err
		}
		if err := l.EditShoe(s); err != nil {
			return explainNotKept(err)
		}
		tellRenamed(cmd, f, renamed, s.Code)
		if s, err = l.Shoe(s.Code); err != nil {
			return err
		}
		out := cmd.OutOrStdout()
		shoes.printVersion(out, s.Code, before.Version, s.Version)
		if f.Shaped() || f.Has("shape") {
			output.Outline(out, &s)
		}
		text.Facts(out, output.ShoeFacts(&s, f.Unit)...)
		output.Doubts(cmd.ErrOrStderr(), s.Doubts())
		if err := warnTooSmall(cmd, l, s); err != nil {
			return err
		}
		return shoes.printKeeping(out, l, s.Code, before.Version, s.Version)
	})
}

func newShoeList() *cobra.Command {
	unit := text.Unit("mm")
	cmd := &cobra.Command{Short: "List the shoes, as they are now", Example: `  aplomb shoe list`}
	unitFlag(cmd, &unit, "`UNIT` of lengths")
	headings := []string{"shoe", "platform", "shape", "box", "crown", "shank", "hours", "owner", "recordings"}
	return listCommand(cmd, "no shoes: aplomb shoe add CODE adds one", headings, func(l *logbook.Logbook) (rows [][]string, err error) {
		all, err := l.Shoes()
		if err != nil {
			return nil, err
		}
		for _, s := range all {
			made, err := shoes.recordingsWith(l, s.Code, 0)
			if err != nil {
				return nil, err
			}
			rows = append(rows, []string{s.Code, unit.Size(s.Size()), text.Shape(&s.Shoe), s.Box, unit.Length(s.CrownMM), output.ShankOf(&s.Shoe),
				text.Known(s.HoursWorn, ""), s.Owner, strconv.Itoa(len(made))})
		}
		return rows, nil
	}, output.ShoesJSON)
}

func newShoeShow() *cobra.Command {
	var asFile bool
	unit := text.Unit("mm")
	cmd := &cobra.Command{
		Use:   "show CODE",
		Short: "Show a shoe, and which recordings were made with it",
		Long: `Show a shoe as it is now, its versions, and the recordings made with each.

--toml prints it as a shoe file instead. --json has lengths in mm.`,
		Example: `  aplomb shoe show A
  aplomb shoe show A --unit inch
  aplomb shoe show A --toml > A.toml`,
		Args:              exactArgs("the shoe's CODE"),
		ValidArgsFunction: completeCodes(shoeCodes),
	}
	unitFlag(cmd, &unit, "`UNIT` of lengths")
	cmd.Flags().BoolVar(&asFile, "toml", false, "print it as a shoe file")
	asJSON := jsonFlag(cmd)
	oneOf(cmd, "toml", "json")
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		versions, err := l.ShoeVersions(args[0])
		if err != nil {
			return shoes.listHint(err)
		}
		if *asJSON {
			return printJSON(cmd)(output.ShoeJSON(l, versions))
		}
		out := cmd.OutOrStdout()
		var all []output.Version
		for _, s := range versions {
			made, err := shoes.recordingsWith(l, s.Code, s.Version)
			if err != nil {
				return err
			}
			all = append(all, output.Version{Number: s.Version, Current: s.Current, Facts: output.ShoeFacts(&s, unit), Made: made})
			switch {
			case s.Current && asFile:
				fmt.Fprint(out, device.TOML(&s.Shoe))
				return nil
			case s.Current:
				fmt.Fprintf(out, "shoe %s\n", output.Versioned(s.Code, s.Version, len(versions)))
				output.Shoe(out, &s, unit)
			}
		}
		output.Versions(out, all)
		return nil
	})
}

func newShoeRemove() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "remove CODE",
		Short: "Remove a shoe that no recording was made with",
		Long: `Remove a shoe that no recording was made with, such as one added by mistake.

A shoe that recordings were made with stays, because they need it.`,
		Example:           `  aplomb shoe remove A`,
		Args:              exactArgs("the shoe's CODE"),
		ValidArgsFunction: completeCodes(shoeCodes),
	}
	find := func(l *logbook.Logbook, typed string) (string, error) {
		s, err := l.Shoe(typed)
		return s.Code, err
	}
	return shoes.removeCommand(cmd, "change its description with aplomb shoe edit", find, (*logbook.Logbook).RemoveShoe)
}

// explainNotKept adds to an error of adding or editing a shoe the command that
// helps.
func explainNotKept(err error) error {
	if errors.Is(err, logbook.ErrExists) {
		return fmt.Errorf("%w: aplomb shoe edit changes its description", err)
	}
	return lookup.Hint(err, "aplomb dancer list") // the owner
}

// checkAddable returns the error that adding a shoe would end with. It is called
// before the person answers questions about the shoe. It makes no logbook.
func checkAddable(folder *lookup.Folder, s *logbook.Shoe) error {
	if s.Owner == "" && !folder.Exists() {
		return nil
	}
	return folder.With(func(l *logbook.Logbook) error {
		if _, err := l.Shoe(s.Code); err == nil {
			return explainNotKept(fmt.Errorf("shoe %q: %w", s.Code, logbook.ErrExists))
		}
		if s.Owner == "" {
			return nil
		}
		_, err := l.Dancer(s.Owner)
		return explainNotKept(err)
	})
}

// shoeFlags adds the flags that describe a shoe.
func shoeFlags(cmd *cobra.Command, f *forms.Shoe) {
	formFlags(cmd, &f.Form, f.Fields[:2]) // platform and shape
	cmd.Flags().StringVar(&f.Outline, "outline", "", "instead of both: `FILE` of the outline, traced, CSV or an SVG path, its front up")
	cmd.Flags().StringVar(&f.Scale, "scale", "", "`LENGTH` of one unit of that file; default what it says, for CSV mm")
	cmd.Flags().BoolVar(&f.Mirror, "mirror", false, "its big toe is on the left")
	formFlags(cmd, &f.Form, f.Fields[2:])
	cmd.Flags().Var(typing(func(v string) { f.Owner = &v }), "owner", "`CODE` of the dancer whose own pair it is, and with whom it is erased")
	cmd.Flags().StringVar(&f.File, "file", "", "take all of it from a shoe `FILE`; other flags then change that")
	unitFlag(cmd, &f.Unit, "`UNIT` of lengths without one")
	complete(cmd, "owner", completeCodes(dancerCodes))
	complete(cmd, "file", completeFiles("toml"))
	complete(cmd, "outline", cobra.FixedCompletions([]string{"csv", "svg"}, cobra.ShellCompDirectiveFilterFileExt))
	complete(cmd, "scale", cobra.NoFileCompletions)
}

// tellRenamed tells that a shoe has another code in the logbook than in its file, renamed.
func tellRenamed(cmd *cobra.Command, f *forms.Shoe, renamed, code string) {
	if renamed != "" {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s calls it %s; in the logbook it is %s\n", f.File, text.Plain(renamed), code)
	}
}
