package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/device"
	"aplomb/device/drawing"
)

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
	f.flag(cmd, "shape", "`SHAPE` of the platform: "+shapeWords, wordsOf(shapes), func(s *logbook.Shoe, v string) (err error) {
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
	read, err := device.ReadShoe(f.cmd.Context(), f.file)
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
	opt := drawing.Options{Mirror: f.mirror}
	if f.scale != "" {
		mm, err := device.ParseLength(f.scale, string(f.unit))
		if err != nil || mm == 0 {
			return misused("--scale %q: the length of one unit of %s, such as 0.1 or 1in", f.scale, f.outline)
		}
		opt.ScaleMM = mm
	}
	outline, err := drawing.Read(f.cmd.Context(), f.outline, opt)
	if err != nil {
		return err
	}
	s.PlatformMM, s.OutlineExponent, s.OutlineMM = [2]float64{}, 0, nil
	for _, p := range outline {
		s.OutlineMM = append(s.OutlineMM, p)
	}
	return nil
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
