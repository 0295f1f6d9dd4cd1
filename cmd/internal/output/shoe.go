package output

import (
	"fmt"
	"io"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/screen"
	"aplomb/plots/words"
)

// Shoe draws a shoe's outline and prints its description.
func Shoe(w io.Writer, s *logbook.Shoe, unit text.Unit) {
	Outline(w, s)
	text.Facts(w, ShoeFacts(s, unit)...)
}

// Outline draws a shoe's outline with its kern.
func Outline(w io.Writer, s *logbook.Shoe) { fmt.Fprintln(w, screen.Outline(s.Outline())) }

// Doubts prints the improbable values of a profile as warnings.
func Doubts(w io.Writer, all []device.Doubt) {
	for _, d := range all {
		text.Warnings(w, []string{d.Text})
	}
}

// ShoeFacts returns names and values of a shoe's known properties, for text.Facts.
func ShoeFacts(s *logbook.Shoe, unit text.Unit) []string {
	shape := text.Shape(&s.Shoe)
	if n := len(s.OutlineMM); n > 0 {
		shape += " with " + words.Count(n, "point", "points")
	} else if word := text.Trimmed(s.OutlineExponent); shape != word {
		shape += " (exponent " + word + ")"
	} else {
		shape = "exponent " + word
	}
	return []string{
		"platform", unit.Size(s.Size()) + ", " + shape,
		"box", s.Box,
		"crown", unit.Length(s.CrownMM),
		"shank", ShankOf(&s.Shoe),
		"vamp", unit.Length(s.VampMM),
		"wings", unit.Length(s.WingsMM),
		"padding", s.Padding,
		"hours worn", text.Known(s.HoursWorn, ""),
		"owner", s.Owner,
	}
}

// ShankOf returns strength and length of the shank.
func ShankOf(s *device.Shoe) string {
	if s.Shank != "" && s.ShankLength != "" {
		return s.Shank + ", " + s.ShankLength
	}
	return s.Shank + s.ShankLength
}
