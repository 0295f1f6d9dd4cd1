package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/logbook"
	"aplomb/device/tracing"
)

func newShoe() *cobra.Command {
	return family("shoe", "Keep the shoes, as a ruler found them", `
Keep the shoes, as a ruler found them.

A shoe has a code of your own, the width and depth of its platform and the shape
of that; everything else is optional. Recordings keep the shoe they were made
with: what is edited after them is another version.`, `
  aplomb shoe add A
  aplomb shoe add B --platform 39x24 --shape squarish --box square --crown 27 --shank hard
  aplomb shoe list
  aplomb shoe show A
  aplomb shoe edit A --hours 6 --shank soft
  aplomb shoe remove A`,
		newShoeAdd(), newShoeList(), newShoeShow(), newShoeEdit(), newShoeRemove())
}

// shoeFlags are what can be said of a shoe.
type shoeFlags struct {
	settings[logbook.Shoe]
	unit                 ruler
	file, outline, scale string
	mirror               bool
	owner                string
	cmd                  *cobra.Command
}

func (f *shoeFlags) flags(cmd *cobra.Command, b *book) {
	f.cmd = cmd
	f.flag(cmd, "platform", "`WIDTHxDEPTH` of the platform, such as 36x22 or, with --unit inch, \"1 7/16 x 7/8\"", nil, func(s *logbook.Shoe, v string) (err error) {
		s.PlatformMM, err = device.ParseSize(v, string(f.unit))
		s.OutlineMM = nil
		return err
	})
	f.flag(cmd, "shape", "`SHAPE` of the platform: "+shapeWords+" (default rounded)", wordsOf(shapes), func(s *logbook.Shoe, v string) (err error) {
		s.OutlineExponent, err = exponent(v)
		return err
	})
	cmd.Flags().StringVar(&f.outline, "outline", "", "instead of both: `FILE` of the outline, traced, CSV or an SVG path, its front up")
	cmd.Flags().StringVar(&f.scale, "scale", "", "`LENGTH` of one unit of that file; default what it says, for CSV mm")
	cmd.Flags().BoolVar(&f.mirror, "mirror", false, "its big toe is on the left")
	f.word(cmd, "box", "`WORD` for the box", device.Boxes[:], func(s *logbook.Shoe) *string { return &s.Box })
	f.length(cmd, "crown", "`HEIGHT` of the profile", func(s *logbook.Shoe) *float64 { return &s.CrownMM })
	f.word(cmd, "shank", "`STRENGTH` of the shank", device.Shanks[:], func(s *logbook.Shoe) *string { return &s.Shank })
	f.word(cmd, "shank-length", "`LENGTH` of the shank", device.ShankLengths[:], func(s *logbook.Shoe) *string { return &s.ShankLength })
	f.text(cmd, "padding", "`WHAT` is in it, such as gel", func(s *logbook.Shoe) *string { return &s.Padding })
	f.length(cmd, "vamp", "`LENGTH` from the front of the platform to the throat", func(s *logbook.Shoe) *float64 { return &s.VampMM })
	f.length(cmd, "wings", "`LENGTH` from the platform to the top of the wings", func(s *logbook.Shoe) *float64 { return &s.WingsMM })
	f.number(cmd, "hours", "`HOURS` worn so far", func(s *logbook.Shoe) *float64 { return &s.HoursWorn })
	cmd.Flags().StringVar(&f.owner, "owner", "", "`CODE` of the dancer whose own pair it is, and with whom it is erased")
	cmd.Flags().StringVar(&f.file, "file", "", "take all of it from a shoe `FILE`; other flags then change that")
	f.unit.flag(cmd, "`UNIT` of lengths without one")
	b.flag(cmd)
	complete(cmd, "owner", b.codes(dancerCodes))
	complete(cmd, "file", endingIn("toml"))
	complete(cmd, "outline", cobra.FixedCompletions([]string{"csv", "svg"}, cobra.ShellCompDirectiveFilterFileExt))
	complete(cmd, "scale", cobra.NoFileCompletions)
}

// length adds a flag that takes a length; without one it is 0.
func (f *shoeFlags) length(cmd *cobra.Command, name, usage string, of func(*logbook.Shoe) *float64) {
	f.flag(cmd, name, usage, nil, func(s *logbook.Shoe, v string) (err error) {
		*of(s) = 0
		if v != "" {
			*of(s), err = device.ParseLength(v, string(f.unit))
		}
		return err
	})
}

// any says whether anything was typed that changes a shoe.
func (f *shoeFlags) any() bool {
	return f.settings.any() || f.file != "" || f.outline != "" || f.cmd.Flags().Changed("owner")
}

// shaped says whether it was typed what the platform is like.
func (f *shoeFlags) shaped() bool { return f.has("platform") || f.file != "" || f.outline != "" }

// apply does to s what was typed.
func (f *shoeFlags) apply(s *logbook.Shoe) error {
	switch {
	case f.outline != "" && f.has("platform", "shape"):
		return misused("--outline %s says what --platform and --shape do: one or the other", f.outline)
	case f.outline == "" && (f.scale != "" || f.mirror):
		return misused("--scale and --mirror are for --outline FILE")
	}
	if f.file != "" {
		if err := f.fromFile(s); err != nil {
			return err
		}
	}
	if f.outline != "" {
		if err := f.trace(s); err != nil {
			return err
		}
	}
	if len(s.OutlineMM) > 0 && f.has("shape") && !f.has("platform") {
		return misused("--shape: the outline of shoe %s was traced: --platform WIDTHxDEPTH takes its place", s.Code)
	}
	if f.cmd.Flags().Changed("owner") {
		s.Owner = f.owner
	}
	if err := f.settings.apply(s); err != nil {
		return err
	}
	if len(s.OutlineMM) == 0 && s.OutlineExponent == 0 {
		s.OutlineExponent = rounded
	}
	return nil
}

// fromFile makes s the shoe in a file, under its own code.
func (f *shoeFlags) fromFile(s *logbook.Shoe) error {
	read, err := device.ReadShoe(f.file)
	if err != nil {
		return err
	}
	if read.Code != s.Code {
		fmt.Fprintf(f.cmd.ErrOrStderr(), "%s calls it %s; in the logbook it is %s\n", f.file, plain(read.Code), s.Code)
	}
	read.Code = s.Code
	s.Shoe = *read
	return nil
}

// trace takes the outline from a file.
func (f *shoeFlags) trace(s *logbook.Shoe) error {
	opt := tracing.Options{Mirror: f.mirror}
	if f.scale != "" {
		mm, err := device.ParseLength(f.scale, string(f.unit))
		if err != nil || mm == 0 {
			return misused("--scale %q: the length of one unit of %s, such as 0.1 or 1in", f.scale, f.outline)
		}
		opt.ScaleMM = mm
	}
	outline, err := tracing.Read(f.outline, opt)
	if err != nil {
		return err
	}
	s.PlatformMM, s.OutlineExponent, s.OutlineMM = [2]float64{}, 0, nil
	for _, p := range outline {
		s.OutlineMM = append(s.OutlineMM, p)
	}
	return nil
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
is right. Flags say the same; nothing is asked once they say what the platform is
like: --platform, --outline or --file.

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
		if err := f.apply(&s); err != nil {
			return err
		}
		asker := (*asker)(nil)
		if !f.shaped() {
			if asker = newAsker(cmd); asker == nil {
				return misused("--platform WIDTHxDEPTH is missing, such as --platform 36x22, or --outline FILE or --file FILE")
			}
			if err := addable(l, &s); err != nil {
				return err
			}
			if err := f.ask(asker, &s); err != nil {
				return err
			}
		}
		if err := l.AddShoe(s); err != nil {
			return notKept(err)
		}
		fmt.Fprintf(cmd.OutOrStdout(), "shoe %s added\n", s.Code)
		if asker == nil {
			printShoe(cmd.OutOrStdout(), &s, f.unit)
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
not typed stays as it is; an empty value, as in --padding "", takes back what was
said.

If recordings were made with the shoe as it was, another version begins, and they
keep the one that was true for them. The code itself stays: recordings carry it.`,
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
		if s.Version == before.Version {
			return nil
		}
		recordings, err := l.Recordings(logbook.Filter{Shoe: s.Code})
		if err != nil {
			return err
		}
		printKept(out, madeIn(recordings, shoeVersion(s.Code, before.Version)), before.Version)
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

// shapes are words for outlines between an oval and a rectangle, by the exponent
// of the superellipse. The words are ours.
var shapes = []shape{{"oval", 2}, {"rounded", rounded}, {"squarish", 4}, {"rectangle", 20}}

// rounded is the outline where nobody says what it is like.
const rounded = 2.5

type shape struct {
	word     string
	exponent float64
}

const shapeWords = "oval, rounded, squarish, rectangle, or a number from 2 to 20"

func wordsOf(shapes []shape) (words []string) {
	for _, s := range shapes {
		words = append(words, s.word)
	}
	return words
}

// exponent reads the shape of a platform, rounded for "".
func exponent(text string) (float64, error) {
	if text == "" {
		return rounded, nil
	}
	for _, s := range shapes {
		if s.word == text {
			return s.exponent, nil
		}
	}
	e, err := number(text)
	if err != nil {
		return 0, fmt.Errorf("%.40q: %s", text, shapeWords)
	}
	return e, nil
}
