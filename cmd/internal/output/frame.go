package output

import (
	"fmt"
	"io"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// frameLines is how many lines an answer has at most, of 80 columns: it is read at a
// glance, and stays on the screen.
const frameLines = 12

// Frame prints the answer of a comparison in at most frameLines lines: what is known of
// the shoes, a line a shoe, and where the rest is.
func Frame(w io.Writer, c *compare.Comparison, rest string) {
	var lines []string
	if c.Answer != "" {
		lines = append(lines, wrapped(c.Answer)...)
	}
	for _, said := range c.Findings {
		if more := wrapped(said); len(lines)+len(more) <= frameLines/2 {
			lines = append(lines, more...)
		}
	}
	foot := wrapped(rest)
	if n := len(c.Warnings); n > 0 {
		foot = append([]string{words.Count(n, "warning", "warnings") + " to read with it."}, foot...)
	}
	room := frameLines - len(lines) - len(foot)
	shoes := shoeLines(c)
	if len(shoes) > room {
		left := len(shoes) - max(0, room-1)
		shoes = append(shoes[:max(0, room-1)], fmt.Sprintf("… and %s", words.Count(left, "line more", "lines more")))
	}
	lines = append(append(lines, shoes...), foot...)
	for _, line := range lines[:min(len(lines), frameLines)] {
		fmt.Fprintln(w, line)
	}
}

func wrapped(said string) []string { return strings.Split(text.Wrap(said), "\n") }

// shoeLines returns a line for each shoe and foot, in the order of the comparison.
func shoeLines(c *compare.Comparison) (lines []string) {
	wide := 0
	for _, s := range c.Shoes {
		wide = max(wide, len([]rune(s.Shoe)))
	}
	for _, s := range c.Shoes {
		over := s.Measures[measure.Over]
		line := fmt.Sprintf("%-*s %-5s  over %s  %s", wide, s.Shoe, s.Foot, words.DisplayOf(measure.Over).PlusMinus(over.Mean, over.CI95),
			words.Verdict(s.Verdict, s.Misses, s.Measures[measure.Medial].Mean))
		if r := []rune(line); len(r) > 80 {
			line = string(r[:79]) + "…"
		}
		lines = append(lines, line)
	}
	return lines
}
