package output

import (
	"fmt"
	"io"
	"strings"

	"aplomb/analyze/check"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// CheckLine prints a check in one line, with the command for details.
func CheckLine(w io.Writer, r *check.Report, more string) {
	said := "checked: " + r.Summary()
	if !r.Trusted || !r.Whole {
		said += " (" + more + " says more)"
	}
	fmt.Fprintln(w, text.Wrap(said))
}

// CheckReport prints the contents of a recording, and each finding with its consequence
// for the measures.
func CheckReport(w io.Writer, title string, r *check.Report) {
	fmt.Fprintf(w, "%s: %s\n", title, r.Judgement())
	printFindings(w, "file", r.Findings)
	printFindings(w, "both", r.Findings)
	for _, foot := range device.Feet {
		if f := r.Feet.Of(foot); f != nil {
			printFoot(w, foot.String(), f)
			printFindings(w, foot.String(), r.Findings)
		}
	}
}

// gapsShown is the number of gaps of a foot that are listed; further ones are counted.
const gapsShown = 5

func printFoot(w io.Writer, name string, f *check.FootReport) {
	under := fmt.Sprintf("strip %s under shoe %s", f.Strip, f.Shoe)
	under += inBrackets(strings.Join(wornText(f.Mark, f.Padding, f.Fixing), "; "))
	if f.Frames == 0 {
		item(w, name, under)
		return
	}
	said := fmt.Sprintf("%s: %d frames in %.1f s", under, f.Frames, f.SpanS)
	if f.RateHz != nil {
		said += fmt.Sprintf(", %.1f a second", *f.RateHz)
	}
	switch {
	case f.Lost == nil:
	case *f.Lost > 0:
		said += fmt.Sprintf(", %d lost", *f.Lost)
	default:
		said += ", none lost"
	}
	item(w, name, said)
	if f.IntervalSDMS != nil {
		item(w, "", fmt.Sprintf("evenly to %.2f ms by the strip's clock; arriving evenly to %.1f ms, longest wait %.0f ms",
			*f.IntervalSDMS, *f.ArrivalSDMS, *f.LongestWaitMS))
	}
	var held []string
	if f.Measured != nil {
		held = append(held, words.Count(*f.Measured, "relevé", "relevés")+" measured")
	}
	if f.Felt != nil {
		held = append(held, fmt.Sprintf("%d of %d cells under the platform felt load", f.Felt.Cells, f.Felt.Of))
	}
	if len(held) > 0 {
		item(w, "", strings.Join(held, "; "))
	}
	if s := f.Seat; s != nil {
		item(w, "", "the strip "+words.Seat(&measure.Seat{Evidence: s.Evidence, Medial: s.Medial, Over: s.Over}, device.Mount{})+" (95 %)")
		if s.BetweenPresses != nil {
			item(w, "", "from the first pad press to the last it moved "+words.Move(s.BetweenPresses)+" (95 %)")
		}
	}
	if z := f.Zero; z != nil {
		item(w, "", fmt.Sprintf("zero moved by up to %s counts a cell, %s N in all, %.2f mm of the centre of pressure", words.Number(z.Counts, 1), words.Number(z.LoadN, 1), z.ShiftMM))
	}
	for i, g := range f.Gaps {
		if i == gapsShown {
			item(w, "", "and "+words.Count(len(f.Gaps)-i, "gap", "gaps")+" more")
			break
		}
		item(w, "", fmt.Sprintf("gap of %.3f s up to %.3f s: %s", g.LengthS, g.AtS, g.Cause))
	}
}

// printFindings prints what has been found about the file or a foot.
func printFindings(w io.Writer, about string, findings []check.Finding) {
	for _, f := range findings {
		if f.About != about {
			continue
		}
		mark := " "
		if f.Grave {
			mark = "!"
		}
		label := about
		if about == device.Left.String() || about == device.Right.String() {
			label = "" // it is in the line above
		}
		fmt.Fprintln(w, text.Item(fmt.Sprintf("  %-5s%s ", label, mark), f.Text))
		if f.Means != "" {
			fmt.Fprintln(w, text.Item("         → ", f.Means))
		}
	}
}

func item(w io.Writer, about, said string) {
	fmt.Fprintln(w, text.Item(fmt.Sprintf("  %-5s  ", about), said))
}
