package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/recording"
)

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check FILE.mcap…",
		Short: "Say whether recordings are whole",
		Long: `Say whether recordings are whole: frames, frames lost, gaps, and the file
itself, and what anything missing does to the measures.

Exit status 1 where one is not whole.`,
		Example: `  aplomb check a1.mcap
  aplomb check *.mcap && aplomb report *.mcap --out report.html`,
		Args:              someRecordings,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			whole := true
			for _, path := range args {
				if err := cmd.Context().Err(); err != nil {
					return err
				}
				s, err := recording.Inspect(path)
				if err != nil { // the others are to be checked all the same
					fmt.Fprintf(cmd.ErrOrStderr(), "aplomb: %s\n", explain(err))
					whole = false
					continue
				}
				printSurvey(cmd.OutOrStdout(), path, s)
				whole = whole && s.Whole()
			}
			if !whole {
				return errNo
			}
			return nil
		},
	}
}

// printSurvey says what a recording holds and, under each finding, what it
// means for the measures.
func printSurvey(w io.Writer, path string, s *recording.Survey) {
	if s.Whole() {
		fmt.Fprintf(w, "%s: whole\n", path)
	} else {
		fmt.Fprintf(w, "%s: not whole\n", path)
	}
	if s.Damage != nil {
		finding(w, "file", s.Damage.Error(), "analyze refuses it: go back to a copy, or record again")
	} else if s.Missing != "" {
		finding(w, "file", s.Missing, "what came before can be measured")
	}
	for _, foot := range device.Feet {
		if f := s.Feet[foot]; f != nil {
			printFoot(w, foot, s, f)
		}
	}
}

// gapsShown is how many gaps of a foot are listed before the rest is only counted.
const gapsShown = 5

func printFoot(w io.Writer, foot device.Foot, s *recording.Survey, f *recording.FootSurvey) {
	side := s.Meta.Sides[foot]
	name := foot.String()
	under := fmt.Sprintf("strip %s under shoe %s", side.Strip.Name, side.Shoe.Code)
	if f.Frames == 0 {
		finding(w, name, under+": no frame", "nothing can be measured on this foot, nor left against right")
		return
	}
	text := fmt.Sprintf("%s: %d frames in %.1f s", under, f.Frames, f.SpanS)
	if f.RateHz > 0 {
		text += fmt.Sprintf(", %.1f a second", f.RateHz)
	}
	switch {
	case !f.Numbered:
		finding(w, name, text, "not numbered, so lost frames cannot be counted: only a pause would show")
	case f.Lost > 0:
		finding(w, name, fmt.Sprintf("%s, %d lost", text, f.Lost), "a relevé with frames missing says so; its sway and times are the least sure")
	default:
		finding(w, name, text+", none lost", "")
	}
	for i, e := range f.Gaps {
		if i == gapsShown {
			finding(w, "", fmt.Sprintf("and %d gaps more", len(f.Gaps)-i), "")
			break
		}
		finding(w, "", fmt.Sprintf("gap of %.3f s up to %.3f s: %s", e.LengthS, s.At(e), e.Cause), "")
	}
	if f.Paused() {
		finding(w, "", fmt.Sprintf("a pause of %.3f s: frames seem to be missing", f.LongestS), "a relevé it falls into says so; its sway and times are the least sure")
	}
	if side.Clock == "host" {
		finding(w, "", "the strip sends no clock", "times are those of arrival: sway and times are rough")
	}
	if f.Saturated > 0 {
		finding(w, "", fmt.Sprintf("%d frames with a cell at the end of its range", f.Saturated), "load and peak pressure there are lower bounds")
	}
	if f.Partial() {
		finding(w, "", fmt.Sprintf("the strip covers %.0f %% of the platform", 100*f.Covered), "what stands beside it is not measured: load and contact read low")
	}
}

// finding prints one line, and what it means under it.
func finding(w io.Writer, about, text, means string) {
	fmt.Fprintf(w, "  %-5s  %s\n", about, text)
	if means != "" {
		fmt.Fprintf(w, "         → %s\n", means)
	}
}
