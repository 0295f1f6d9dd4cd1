package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/check"
	"aplomb/device"
	"aplomb/plots/words"
)

func newCheck() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE.mcap…",
		Short: "Say whether recordings are whole and can be trusted",
		Long: `Say whether recordings are whole and can be trusted: frames, their rate and
what is missing, cells that are dead, stuck, loose, noisy or saturated, ghosts,
drift of the zero, load beside the platform, and after each → what it means for
the measures. A ! marks what makes a number untrustworthy.

Exit status 1 where a number from one of the recordings should not be trusted.

Cells are told by their row from the back and their column from the little-toe
side. A cell between loaded ones that answers to nothing is dead; where load was
on too few sides, or in too few relevés, it is called silent: it may not have
been touched. Ghosts are told by cells beside the platform on opposite sides
that read load wherever the strip may lie; where no cell lies beside it, they
cannot be.

With --json: file, whole, trusted; feet.left and feet.right with strip, shoe,
frames, lost, rate_hz, span_s, interval_sd_ms (by the strip's clock),
arrival_sd_ms and longest_wait_ms (by the computer's), covered, measured (number
of relevés), felt (cells that carried load), zero (how far it moved) and gaps;
findings with about, kind, cells ([row, column] from 1), since_s (since the
foot's first frame), share, text, means, grave. What is not known is absent.`,
		Example: `  aplomb check a1.mcap
  aplomb check *.mcap && aplomb report *.mcap --out report.html
  aplomb check a1.mcap --json | jq '.findings[] | select(.grave)'`,
		Args:              someRecordings,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			trusted := true
			for i, path := range args {
				if err := cmd.Context().Err(); err != nil {
					return err
				}
				r, err := check.File(cmd.Context(), path)
				if err != nil { // the others are to be checked all the same
					fmt.Fprintf(cmd.ErrOrStderr(), "aplomb: %s\n", explain(err))
					trusted = false
					continue
				}
				trusted = trusted && r.Trusted
				if asJSON {
					if err := writeJSON(cmd.OutOrStdout(), r); err != nil {
						return err
					}
					continue
				}
				if i > 0 {
					fmt.Fprintln(cmd.OutOrStdout())
				}
				printReport(cmd.OutOrStdout(), path, r)
			}
			if !trusted {
				return errNo
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON Lines, one object a recording")
	return cmd
}

// printReport says what a recording holds and, under each finding, what it
// means for the measures.
func printReport(w io.Writer, path string, r *check.Report) {
	fmt.Fprintf(w, "%s: %s\n", path, judgement(r))
	printFindings(w, "file", r.Findings)
	printFindings(w, "both", r.Findings)
	for _, foot := range device.Feet {
		if f := r.Feet.Of(foot); f != nil {
			printFoot(w, foot.String(), f)
			printFindings(w, foot.String(), r.Findings)
		}
	}
}

func judgement(r *check.Report) string {
	switch {
	case r.Whole && r.Trusted:
		return "whole"
	case r.Whole:
		return "whole, but not to be trusted"
	case r.Trusted:
		return "not whole, but what is there can be trusted"
	}
	return "not whole"
}

// gapsShown is how many gaps of a foot are listed before the rest is only counted.
const gapsShown = 5

func printFoot(w io.Writer, name string, f *check.Foot) {
	under := fmt.Sprintf("strip %s under shoe %s", f.Strip, f.Shoe)
	if f.Frames == 0 {
		item(w, name, under)
		return
	}
	text := fmt.Sprintf("%s: %d frames in %.1f s", under, f.Frames, f.SpanS)
	if f.RateHz != nil {
		text += fmt.Sprintf(", %.1f a second", *f.RateHz)
	}
	switch {
	case f.Lost == nil:
	case *f.Lost > 0:
		text += fmt.Sprintf(", %d lost", *f.Lost)
	default:
		text += ", none lost"
	}
	item(w, name, text)
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
	if z := f.Zero; z != nil {
		item(w, "", fmt.Sprintf("zero moved by up to %s counts a cell, %s N in all, %.2f mm of the centre of pressure", words.Number(z.Counts, 1), words.Number(z.LoadN, 1), z.ShiftMM))
	}
	for i, g := range f.Gaps {
		if i == gapsShown {
			item(w, "", fmt.Sprintf("and %d gaps more", len(f.Gaps)-i))
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
			label = "" // it stands above
		}
		fmt.Fprintf(w, "  %-5s%s %s\n", label, mark, f.Text)
		if f.Means != "" {
			fmt.Fprintf(w, "         → %s\n", f.Means)
		}
	}
}

func item(w io.Writer, about, text string) { fmt.Fprintf(w, "  %-5s  %s\n", about, text) }
